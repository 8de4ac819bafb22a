//! What kind of file the bytes are, told by their content and never by a file name.

/// A picture format that is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// ITU-T T.81, in a JFIF or EXIF file.
    Jpeg,
    /// Portable Network Graphics.
    Png,
    /// WebP, lossy or lossless, still or moving.
    WebP,
    /// TIFF 6.0 and its 64-bit form; also the form that carries OME-XML.
    Tiff,
}

impl Format {
    /// The name as a person writes it.
    pub fn name(self) -> &'static str {
        match self {
            Format::Jpeg => "JPEG",
            Format::Png => "PNG",
            Format::WebP => "WebP",
            Format::Tiff => "TIFF",
        }
    }

    /// The name as [`super::Tags::format`] has it.
    pub fn tag(self) -> &'static str {
        match self {
            Format::Jpeg => "jpeg",
            Format::Png => "png",
            Format::WebP => "webp",
            Format::Tiff => "tiff",
        }
    }
}

/// A kind of file that is recognised, so that it can be refused with advice that fits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OtherFormat {
    /// High-efficiency photo of a phone (HEIC, HEIF).
    Heic,
    /// AV1 still picture.
    Avif,
    /// JPEG XL.
    JpegXl,
    /// JPEG 2000.
    Jpeg2000,
    /// The sensor's own data as a camera wrote it.
    CameraRaw,
    /// GIF.
    Gif,
    /// Device-independent bitmap.
    Bmp,
    /// A drawing program's file with layers.
    Layered,
    /// PDF document.
    Pdf,
    /// Moving pictures.
    Video,
    /// Medical picture (DICOM).
    Dicom,
    /// Packed files (ZIP).
    Archive,
    /// A web page or a drawing made of text (HTML, XML, SVG).
    Markup,
}

impl OtherFormat {
    /// What it is, with its article.
    pub fn name(self) -> &'static str {
        match self {
            OtherFormat::Heic => "a HEIC photo",
            OtherFormat::Avif => "an AVIF picture",
            OtherFormat::JpegXl => "a JPEG XL picture",
            OtherFormat::Jpeg2000 => "a JPEG 2000 picture",
            OtherFormat::CameraRaw => "a camera raw file",
            OtherFormat::Gif => "a GIF picture",
            OtherFormat::Bmp => "a BMP picture",
            OtherFormat::Layered => "a drawing with layers",
            OtherFormat::Pdf => "a PDF document",
            OtherFormat::Video => "a video",
            OtherFormat::Dicom => "a DICOM file",
            OtherFormat::Archive => "a packed (ZIP) file",
            OtherFormat::Markup => "a web page or a text file",
        }
    }

    /// What to do about it, one sentence or two.
    pub fn help(self) -> &'static str {
        match self {
            OtherFormat::Heic => {
                "Make the phone write JPEG: in its settings look under Camera for Formats and choose Most Compatible, \
                 or switch off high-efficiency pictures; a photo already taken can be shared or exported as JPEG."
            }
            OtherFormat::Avif | OtherFormat::JpegXl => {
                "Set the camera to JPEG; a photo already taken can be opened and exported as JPEG or PNG."
            }
            OtherFormat::Jpeg2000 | OtherFormat::Layered => "Open it and export it as PNG or TIFF without layers.",
            OtherFormat::CameraRaw => {
                "Set the camera to RAW + JPEG and send the JPEG, or develop the raw file to TIFF without sharpening."
            }
            OtherFormat::Gif => "GIF keeps too few colours to measure light; send the photo as the camera saved it.",
            OtherFormat::Bmp => "Open it and save it as PNG, which loses nothing.",
            OtherFormat::Pdf => "Send the photo itself, not the document it was put into.",
            OtherFormat::Video => "Take a still photo; a frame of a video is compressed too strongly.",
            OtherFormat::Dicom => "Export the picture as PNG or TIFF from the program that keeps it.",
            OtherFormat::Archive => "Unpack it and send the photos inside.",
            OtherFormat::Markup => "Send the photo itself: save the picture, not the page that shows it.",
        }
    }
}

/// What the first bytes say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Recognised {
    /// A format that is read.
    Read(Format),
    /// A kind of file that is refused.
    Refused(OtherFormat),
    /// Nothing that is known.
    Unknown,
}

/// Tells the kind of file from its first bytes.
///
/// Signatures are those of the formats' own specifications; the four maker-specific raw headers and the letters
/// after `CR` are common knowledge without a published source. Raw files that are TIFF inside are told later, by
/// their tags (`decode::tiff`).
pub(super) fn recognise(bytes: &[u8]) -> Recognised {
    use OtherFormat as Other;
    const TABLE: &[(usize, &[u8], OtherFormat)] = &[
        (8, b"CR", Other::CameraRaw),
        (0, b"IIRO", Other::CameraRaw),
        (0, b"IIRS", Other::CameraRaw),
        (0, b"MMOR", Other::CameraRaw),
        (0, b"IIU\0", Other::CameraRaw),
        (0, b"FOVb", Other::CameraRaw),
        // The words with which two further makers' raw files begin: their letters, not their names.
        (0, &[0x46, 0x55, 0x4A, 0x49, 0x46, 0x49, 0x4C, 0x4D], Other::CameraRaw),
        (6, b"HEAPCCDR", Other::CameraRaw),
        (0, b"\xFF\x0A", Other::JpegXl),
        (0, b"\0\0\0\x0CJXL \r\n\x87\n", Other::JpegXl),
        (0, b"\0\0\0\x0CjP  \r\n\x87\n", Other::Jpeg2000),
        (0, b"\xFF\x4F\xFF\x51", Other::Jpeg2000),
        (0, b"GIF87a", Other::Gif),
        (0, b"GIF89a", Other::Gif),
        (0, b"8BPS\0", Other::Layered),
        (0, b"%PDF-", Other::Pdf),
        (0, b"\x1A\x45\xDF\xA3", Other::Video),
        (0, b"\0\0\x01\xBA", Other::Video),
        (0, b"\0\0\x01\xB3", Other::Video),
        (128, b"DICM", Other::Dicom),
        (0, b"PK\x03\x04", Other::Archive),
    ];
    let holds = |at: usize, what: &[u8]| bytes.get(at..at + what.len()) == Some(what);
    if holds(0, b"\xFF\xD8\xFF") {
        return Recognised::Read(Format::Jpeg);
    }
    if holds(0, b"\x89PNG\r\n\x1A\n") {
        return Recognised::Read(Format::Png);
    }
    if holds(0, b"RIFF") && holds(8, b"WEBP") {
        return Recognised::Read(Format::WebP);
    }
    if holds(0, b"RIFF") && holds(8, b"AVI ") {
        return Recognised::Refused(Other::Video);
    }
    let is_tiff = [&b"II\x2A\0"[..], b"MM\0\x2A", b"II\x2B\0", b"MM\0\x2B"].iter().any(|magic| holds(0, magic));
    for (at, what, format) in TABLE {
        // A plain TIFF may hold the letters CR at byte 8 by chance only if its directory begins there; a raw file's
        // directory begins at 16.
        if holds(*at, what) && (*at != 8 || (is_tiff && holds(4, &[16, 0, 0, 0]))) {
            return Recognised::Refused(*format);
        }
    }
    if is_tiff {
        return Recognised::Read(Format::Tiff);
    }
    // A bitmap file states its length and keeps four bytes empty; the two letters alone would be too weak a sign.
    if holds(0, b"BM") && holds(6, &[0, 0, 0, 0]) {
        return Recognised::Refused(Other::Bmp);
    }
    if holds(4, b"ftyp") {
        return Recognised::Refused(base_media(bytes));
    }
    if is_markup(bytes) { Recognised::Refused(Other::Markup) } else { Recognised::Unknown }
}

/// Which kind of ISO base media file (ISO/IEC 14496-12) it is, by its brands.
fn base_media(bytes: &[u8]) -> OtherFormat {
    /// Brands listed beyond this many bytes are not looked at; real files list a handful.
    const MAX_BRANDS_BYTES: usize = 256;
    let stated = bytes.get(..4).map_or(0, |b| u32::from_be_bytes([b[0], b[1], b[2], b[3]]) as usize);
    let end = stated.clamp(12, MAX_BRANDS_BYTES).min(bytes.len());
    let brands: Vec<&[u8]> = bytes[8.min(end)..end].chunks_exact(4).collect();
    let any = |names: &[&[u8]]| brands.iter().any(|brand| names.contains(brand));
    if any(&[b"crx "]) {
        OtherFormat::CameraRaw
    } else if any(&[b"avif", b"avis"]) {
        OtherFormat::Avif
    } else if any(&[b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"mif2"]) {
        OtherFormat::Heic
    } else {
        OtherFormat::Video
    }
}

fn is_markup(bytes: &[u8]) -> bool {
    let start = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes).trim_ascii_start();
    let head: Vec<u8> = start.iter().take(16).map(u8::to_ascii_lowercase).collect();
    [&b"<!doctype"[..], b"<html", b"<?xml", b"<svg", b"{\""].iter().any(|word| head.starts_with(word))
}

#[cfg(test)]
mod tests {
    use super::{Format, OtherFormat, Recognised, recognise};

    #[test]
    fn content_decides() {
        let cases: &[(&[u8], Recognised)] = &[
            (b"\xFF\xD8\xFF\xE0", Recognised::Read(Format::Jpeg)),
            (b"\x89PNG\r\n\x1A\n", Recognised::Read(Format::Png)),
            (b"RIFF\x10\0\0\0WEBPVP8 ", Recognised::Read(Format::WebP)),
            (b"II\x2A\0\x08\0\0\0", Recognised::Read(Format::Tiff)),
            (b"MM\0\x2B\0\x08\0\0", Recognised::Read(Format::Tiff)),
            (b"II\x2A\0\x10\0\0\0CR\x02\0", Recognised::Refused(OtherFormat::CameraRaw)),
            (b"\0\0\0\x18ftypcrx \0\0\0\x01", Recognised::Refused(OtherFormat::CameraRaw)),
            (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", Recognised::Refused(OtherFormat::Heic)),
            (b"\0\0\0\x1Cftypmif1\0\0\0\0mif1heicmiaf", Recognised::Refused(OtherFormat::Heic)),
            (b"\0\0\0\x1Cftypmif1\0\0\0\0mif1avifmiaf", Recognised::Refused(OtherFormat::Avif)),
            (b"\0\0\0\x14ftypqt  \0\0\0\0qt  ", Recognised::Refused(OtherFormat::Video)),
            (b"RIFF\x10\0\0\0AVI LIST", Recognised::Refused(OtherFormat::Video)),
            (b"\xFF\x0A\x00", Recognised::Refused(OtherFormat::JpegXl)),
            (b"GIF89a", Recognised::Refused(OtherFormat::Gif)),
            (b"BM\x9A\0\0\0\0\0\0\0\x36", Recognised::Refused(OtherFormat::Bmp)),
            (b"BMW and other words", Recognised::Unknown),
            (b"%PDF-1.7", Recognised::Refused(OtherFormat::Pdf)),
            (b"  <!DOCTYPE html>", Recognised::Refused(OtherFormat::Markup)),
            (b"\0\0\0\x18ftyp", Recognised::Refused(OtherFormat::Video)),
            (b"RIFF", Recognised::Unknown),
            (b"", Recognised::Unknown),
        ];
        for (bytes, expected) in cases {
            assert_eq!(recognise(bytes), *expected, "{:?}", String::from_utf8_lossy(bytes));
        }
    }
}
