//! What the file says of itself: orientation, time, camera, scale. Location is never read.

use crate::units::{Scale, ScaleSource};
use exif::{DateTime, In, Tag, Value};

/// What an EXIF block (or the like in TIFF) says.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Stated {
    /// EXIF orientation, 1 to 8, where stated.
    pub(super) orientation: Option<u8>,
    /// Local time of capture, ISO 8601 without zone.
    pub(super) captured_at: Option<String>,
    /// Maker and model.
    pub(super) camera: Option<String>,
}

impl Stated {
    /// What `self` says, and where it is silent what `other` says.
    pub(super) fn or(self, other: Stated) -> Stated {
        Stated {
            orientation: self.orientation.or(other.orientation),
            captured_at: self.captured_at.or(other.captured_at),
            camera: self.camera.or(other.camera),
        }
    }
}

/// Reads an EXIF block, with or without its six-byte introduction. Only four kinds of fields are looked at;
/// a damaged block yields what can be read of it.
pub(super) fn from_exif(block: &[u8]) -> Stated {
    let block = block.strip_prefix(b"Exif\0\0").unwrap_or(block);
    let mut reader = exif::Reader::new();
    reader.continue_on_error(true);
    let parsed = reader.read_raw(block.to_vec()).or_else(|error| error.distill_partial_result(|_| ()));
    let Ok(exif) = parsed else { return Stated::default() };
    let text = |tag| match exif.get_field(tag, In::PRIMARY).map(|field| &field.value) {
        Some(Value::Ascii(lines)) => lines.first().map(Vec::as_slice),
        _ => None,
    };
    let orientation = exif.get_field(Tag::Orientation, In::PRIMARY).and_then(|field| field.value.get_uint(0));
    Stated {
        orientation: orientation.and_then(|o| u8::try_from(o).ok()).filter(|o| (1..=8).contains(o)),
        // Not the tag DateTime: programs that edit a photo write their own time there.
        captured_at: text(Tag::DateTimeOriginal).or_else(|| text(Tag::DateTimeDigitized)).and_then(time_from_exif),
        camera: camera(text(Tag::Make), text(Tag::Model)),
    }
}

/// `2026:03:01 18:22:05` as `2026-03-01T18:22:05`; `None` for anything that is no time (cameras whose clock was
/// never set write zeros or blanks).
pub(super) fn time_from_exif(text: &[u8]) -> Option<String> {
    let time = DateTime::from_ascii(text.trim_ascii_end()).ok()?;
    let DateTime { year, month, day, hour, minute, second, .. } = time;
    // A leap second is a real time.
    let real = year >= 1900 && (1..=12).contains(&month) && (1..=31).contains(&day);
    (real && hour < 24 && minute < 60 && second <= 60)
        .then(|| format!("{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}"))
}

/// Longest maker or model that is kept, in characters; real ones have fewer than 40.
const MAX_NAME_CHARS: usize = 64;

/// Maker and model in one line; the maker is left out where the model begins with it.
pub(super) fn camera(maker: Option<&[u8]>, model: Option<&[u8]>) -> Option<String> {
    let tidy = |text: Option<&[u8]>| {
        let text = String::from_utf8_lossy(text.unwrap_or_default());
        let shown: String = text.chars().filter(|c| !c.is_control()).take(MAX_NAME_CHARS).collect();
        shown.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let (maker, model) = (tidy(maker), tidy(model));
    let model_says_it = model.to_lowercase().starts_with(&maker.to_lowercase());
    let name = if maker.is_empty() || model_says_it { model } else { format!("{maker} {model}") };
    let name = name.trim();
    (!name.is_empty()).then(|| name.to_owned())
}

/// How far the two sides of a pixel may differ, as a share, and be taken as one: rounding in the file. A pixel that
/// is truly not square would make every width depend on its direction, so such a scale is refused.
const SQUARE_TOLERANCE: f64 = 0.01;

/// A scale from the two sides of a pixel in micrometres; `None` where they are no lengths, are outside
/// `range_um_per_px`, or differ.
fn scale_from_sides(x_um: f64, y_um: f64, range_um_per_px: std::ops::RangeInclusive<f64>) -> Option<Scale> {
    let is_length = |um: f64| um.is_finite() && um > 0.0 && range_um_per_px.contains(&um);
    let is_square = (x_um / y_um - 1.0).abs() <= SQUARE_TOLERANCE;
    (is_length(x_um) && is_length(y_um) && is_square).then(|| Scale {
        um_per_px: (x_um * y_um).sqrt(),
        sd_um_per_px: None,
        source: ScaleSource::File,
    })
}

/// The pixel sizes, micrometres, that a resolution tag can plainly mean: from beyond the finest objective to a hand
/// lens. Coarser ones are printers and screens (600 dots an inch is 42 µm).
const RESOLUTION_RANGE_UM_PER_PX: std::ops::RangeInclusive<f64> = 0.02..=20.0;

/// Dots an inch that scanners, printers and cameras write; a resolution at one of these says nothing of a microscope.
/// Those coarser than `RESOLUTION_RANGE_UM_PER_PX` are refused by it. Common practice, no source.
const DEVICE_DPI: [f64; 17] = [
    1270.0, 1440.0, 2400.0, 2540.0, 2720.0, 2820.0, 2880.0, 3200.0, 3600.0, 4000.0, 4800.0, 5400.0, 6400.0, 7200.0,
    9600.0, 12_800.0, 19_200.0,
];

/// How near a resolution must lie to a device's to be taken for it, as a share: files round to whole dots a centimetre.
const DEVICE_DPI_TOLERANCE: f64 = 0.002;

/// A scale from pixels a centimetre, only where it plainly means a microscope.
pub(super) fn scale_from_resolution(x_px_per_cm: f64, y_px_per_cm: f64) -> Option<Scale> {
    const CM_PER_INCH: f64 = 2.54;
    const UM_PER_CM: f64 = 10_000.0;
    let of_device = |px_per_cm: f64| {
        DEVICE_DPI.iter().any(|dpi| (px_per_cm * CM_PER_INCH / dpi - 1.0).abs() < DEVICE_DPI_TOLERANCE)
    };
    if of_device(x_px_per_cm) {
        return None;
    }
    scale_from_sides(UM_PER_CM / x_px_per_cm, UM_PER_CM / y_px_per_cm, RESOLUTION_RANGE_UM_PER_PX)
}

/// What the OME-XML of a TIFF says of its first picture.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Ome {
    /// Size of a pixel.
    pub(super) scale: Option<Scale>,
    /// Bits of a sample that carry light.
    pub(super) significant_bits: Option<u8>,
    /// Time of acquisition, ISO 8601 without zone.
    pub(super) captured_at: Option<String>,
}

/// The pixel sizes, micrometres, that are believed of OME-XML.
const OME_RANGE_UM_PER_PX: std::ops::RangeInclusive<f64> = 0.005..=100.0;

/// Reads OME-XML (the OME model's `Image/Pixels`, attributes PhysicalSizeX, PhysicalSizeXUnit and so on); `None` when
/// the text is none.
pub(super) fn from_ome_xml(text: &str) -> Option<Ome> {
    let text = text.trim_matches(|c: char| c.is_whitespace() || c == '\0' || c == '\u{feff}');
    if !text.starts_with('<') {
        return None;
    }
    let document = roxmltree::Document::parse(text).ok()?;
    let root = document.root_element();
    if root.tag_name().name() != "OME" {
        return None;
    }
    let picture = root.children().find(|node| node.tag_name().name() == "Image");
    let pixels = picture.and_then(|p| p.children().find(|node| node.tag_name().name() == "Pixels"));
    let Some(pixels) = pixels else { return Some(Ome::default()) };
    let side_um = |size: &str, unit: &str| {
        let value: f64 = pixels.attribute(size)?.trim().parse().ok()?;
        // The model's default unit is the micrometre.
        Some(value * um_per_unit(pixels.attribute(unit).unwrap_or("µm"))?)
    };
    let x_um = side_um("PhysicalSizeX", "PhysicalSizeXUnit");
    let y_um = side_um("PhysicalSizeY", "PhysicalSizeYUnit");
    let scale = x_um.and_then(|x| scale_from_sides(x, y_um?, OME_RANGE_UM_PER_PX));
    let time = picture.and_then(|p| p.children().find(|node| node.tag_name().name() == "AcquisitionDate"));
    Some(Ome {
        scale,
        significant_bits: pixels.attribute("SignificantBits").and_then(|bits| bits.trim().parse().ok()),
        captured_at: time.and_then(|node| time_from_iso(node.text()?)),
    })
}

/// Micrometres in one of the OME model's units of length; `None` for those that are no length (`pixel`,
/// `reference frame`) or none that a slide is measured in.
fn um_per_unit(unit: &str) -> Option<f64> {
    Some(match unit.trim() {
        "m" => 1e6,
        "dm" => 1e5,
        "cm" => 1e4,
        "mm" => 1e3,
        // The micro sign, the Greek letter, and how plain text writes them.
        "\u{b5}m" | "\u{3bc}m" | "um" | "micron" => 1.0,
        "nm" => 1e-3,
        "pm" => 1e-6,
        "\u{c5}" => 1e-4,
        "in" => 25_400.0,
        "thou" => 25.4,
        _ => return None,
    })
}

/// The first 19 characters of an ISO 8601 time, checked.
fn time_from_iso(text: &str) -> Option<String> {
    let head = text.trim().get(..19)?;
    let (date, time) = head.split_once('T')?;
    time_from_exif(format!("{} {time}", date.replace('-', ":")).as_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_checked() {
        assert_eq!(time_from_exif(b"2026:03:01 18:22:05").as_deref(), Some("2026-03-01T18:22:05"));
        for wrong in [&b"0000:00:00 00:00:00"[..], b"    :  :     :  :  ", b"2026:13:01 18:22:05", b"yesterday", b""] {
            assert_eq!(time_from_exif(wrong), None, "{:?}", String::from_utf8_lossy(wrong));
        }
        assert_eq!(time_from_iso("2026-03-01T18:22:05.250Z").as_deref(), Some("2026-03-01T18:22:05"));
        assert_eq!(time_from_iso("2026-03-01"), None);
        assert_eq!(time_from_iso("äääääääääääääääääääää"), None);
    }

    #[test]
    fn the_maker_is_not_said_twice() {
        let cases: [(&[u8], &[u8], Option<&str>); 5] = [
            (b"Quill", b"Model 5\0", Some("Quill Model 5")),
            (b"QUILL", b"Quill Model 5", Some("Quill Model 5")),
            (b"", b" Model 5 ", Some("Model 5")),
            (b"Quill\n\x1b[31m", b"", Some("Quill[31m")),
            (b" ", b"\0\0", None),
        ];
        for (maker, model, name) in cases {
            assert_eq!(camera(Some(maker), Some(model)).as_deref(), name);
        }
    }

    #[test]
    fn a_resolution_is_a_scale_only_where_it_plainly_is() {
        let um = |px_per_cm: f64| scale_from_resolution(px_per_cm, px_per_cm).map(|scale| scale.um_per_px);
        assert!((um(15_919.23).unwrap() - 0.628_171).abs() < 1e-6);
        for dpi in [72.0, 96.0, 150.0, 300.0, 600.0, 1200.0, 2400.0, 4800.0, 9600.0] {
            assert_eq!(um(dpi / 2.54), None, "{dpi} dots an inch");
            assert_eq!(um((dpi / 2.54_f64).round()), None, "{dpi} dots an inch, rounded");
        }
        for nonsense in [0.0, -1.0, f64::NAN, f64::INFINITY, 1.0, 1e7] {
            assert_eq!(um(nonsense), None, "{nonsense}");
        }
        assert_eq!(scale_from_resolution(15_919.0, 7_000.0), None, "pixels that are not square");
    }

    #[test]
    fn ome_xml_in_every_unit() {
        let xml = |attributes: &str| {
            format!("<?xml version=\"1.0\"?><OME xmlns=\"x\"><Image ID=\"a\"><Pixels {attributes}/></Image></OME>")
        };
        for (size, unit) in
            [("0.5", "µm"), ("0.5", "μm"), ("500", "nm"), ("5e-4", "mm"), ("5e-5", "cm"), ("5e-7", "m"), ("5000", "Å")]
        {
            let text = xml(&format!(
                "PhysicalSizeX='{size}' PhysicalSizeXUnit='{unit}' PhysicalSizeY='{size}' PhysicalSizeYUnit='{unit}'"
            ));
            let scale = from_ome_xml(&text).unwrap().scale.unwrap();
            assert!((scale.um_per_px - 0.5).abs() < 1e-12, "{unit}");
            assert_eq!(scale.source, ScaleSource::File);
        }
        let scale = |attributes: &str| from_ome_xml(&xml(attributes)).unwrap().scale;
        assert_eq!(scale("PhysicalSizeX='0.25' PhysicalSizeY='0.25'").unwrap().um_per_px, 0.25, "the default is µm");
        assert_eq!(scale("PhysicalSizeX='0.25' PhysicalSizeY='0.5'"), None, "not square");
        assert_eq!(scale("PhysicalSizeX='1' PhysicalSizeXUnit='pixel' PhysicalSizeY='1'"), None);
        assert_eq!(scale("PhysicalSizeX='-1' PhysicalSizeY='-1'"), None);
        assert_eq!(scale("PhysicalSizeX='NaN' PhysicalSizeY='NaN'"), None);
        assert_eq!(scale("SizeX='4'"), None);
        assert_eq!(from_ome_xml("Shot through the eyepiece"), None);
        assert_eq!(from_ome_xml("<svg/>"), None);
        assert_eq!(from_ome_xml("<OME><Image>"), None);
        assert_eq!(from_ome_xml("<OME/>"), Some(Ome::default()));
        let text = "<OME><Image><AcquisitionDate>2026-03-01T18:22:05</AcquisitionDate>\
                    <Pixels SignificantBits=\"12\"/></Image></OME>";
        let ome = from_ome_xml(text).unwrap();
        assert_eq!((ome.significant_bits, ome.captured_at.as_deref()), (Some(12), Some("2026-03-01T18:22:05")));
    }
}
