//! The photo as OME-TIFF: pixels with their physical size and the lamp's wavelength in OME-XML, schema 2016-06.
//!
//! All letters beyond ASCII are written as numbers of XML, so that no reader can take them for another encoding.

use std::io::Cursor;

use tiff::encoder::{Compression, TiffEncoder, colortype};
use tiff::tags::Tag;

use super::from_record::Entry;
use crate::maths::picture::Picture;

/// The schema, which is its name too.
const SCHEMA: &str = "http://www.openmicroscopy.org/Schemas/OME/2016-06";

/// What is said of the picture beside the entry.
#[derive(Clone, Copy, Debug)]
pub struct OmeNotes<'a> {
    /// Name of the image.
    pub name: &'a str,
    /// Peak wavelength of the lamp, nanometres.
    pub lamp_nm: Option<f64>,
    /// Whether marks are drawn on it.
    pub marked: bool,
}

/// The picture as OME-TIFF; `None` when it is too large for the format (4 GB) or has no pixels.
pub fn ome_tiff(entry: &Entry, picture: &Picture, notes: &OmeNotes) -> Option<Vec<u8>> {
    let (width, height) = (u32::try_from(picture.width).ok()?, u32::try_from(picture.height).ok()?);
    let mut bytes = Cursor::new(Vec::new());
    let mut encoder = TiffEncoder::new(&mut bytes).ok()?.with_compression(Compression::Deflate(Default::default()));
    let mut image = encoder.new_image::<colortype::RGB8>(width, height).ok()?;
    image.encoder().write_tag(Tag::ImageDescription, xml(entry, picture, notes).as_str()).ok()?;
    image.write_data(&picture.rgb).ok()?;
    Some(bytes.into_inner())
}

fn xml(entry: &Entry, picture: &Picture, notes: &OmeNotes) -> String {
    let size = |axis: char, shrink: f64| {
        let um = entry.photo.scale.map(|scale| scale.um_from_px(shrink)).filter(|um| um.is_finite() && *um > 0.0);
        um.map_or(String::new(), |um| format!(" PhysicalSize{axis}=\"{um}\" PhysicalSize{axis}Unit=\"&#181;m\""))
    };
    let wave = notes.lamp_nm.map_or(String::new(), |nm| {
        format!(" ExcitationWavelength=\"{nm}\" ExcitationWavelengthUnit=\"nm\" IlluminationType=\"Epifluorescence\"")
    });
    let about = if notes.marked {
        "Shafts outlined and numbered by Pilumen. Supports a decision, never makes one; send a fungal culture."
    } else {
        "Photo of hair shafts on tape under a UV lamp, in sRGB, 8 bits a channel."
    };
    let [across, down] = picture.shrink;
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?><OME xmlns=\"{SCHEMA}\" \
         xmlns:xsi=\"http://www.w3.org/2001/XMLSchema-instance\" xsi:schemaLocation=\"{SCHEMA} {SCHEMA}/ome.xsd\" \
         Creator=\"Pilumen {}\"><Image ID=\"Image:0\" Name=\"{}\"><Description>{} Photo's SHA-256: {}.</Description>\
         <Pixels ID=\"Pixels:0\" DimensionOrder=\"XYCZT\" Type=\"uint8\" SizeX=\"{}\" SizeY=\"{}\" SizeC=\"3\" \
         SizeZ=\"1\" SizeT=\"1\" Interleaved=\"true\" BigEndian=\"false\"{}{}><Channel ID=\"Channel:0:0\" \
         SamplesPerPixel=\"3\"{wave}/><TiffData IFD=\"0\" PlaneCount=\"1\"/></Pixels></Image></OME>",
        escaped(&entry.program.version),
        escaped(notes.name),
        about,
        entry.photo.sha256,
        picture.width,
        picture.height,
        size('X', across),
        size('Y', down),
    )
}

/// Text as XML in ASCII; what XML has no place for is a question mark.
fn escaped(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\0'..='\u{1f}' | '\u{7f}'..='\u{9f}' | '\u{fffe}' | '\u{ffff}' => "?".to_owned(),
            '&' | '<' | '>' | '"' | '\'' => format!("&#{};", u32::from(c)),
            c if c.is_ascii() => c.to_string(),
            c => format!("&#{};", u32::from(c)),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::escaped;

    #[test]
    fn names_stay_text() {
        assert_eq!(escaped("a<b>&\"'µ猫\u{7}"), "a&#60;b&#62;&#38;&#34;&#39;&#181;&#29483;?");
    }
}
