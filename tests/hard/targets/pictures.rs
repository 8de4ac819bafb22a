//! Files of pictures, and the notes inside them: colour profiles, what cameras and microscopes write.

use std::fs;
use std::io::Cursor;

use image::codecs::jpeg::JpegEncoder;
use image::codecs::png::PngEncoder;
use image::{ExtendedColorType, ImageDecoder, ImageEncoder, ImageReader};
use pilumen::image::{Image, ImageError, Samples, Settings, from_bytes, stated_pixels};
use tiff::encoder::{TiffEncoder, colortype::Gray16};
use tiff::tags::Tag;

use super::super::damage::png_with_sums;
use super::{Outcome, World, must, told};

/// Longest file to begin with, bytes: damage must hit something that matters.
const MOST_BYTES: u64 = 24_000;

/// The largest picture that is decoded here: what is found at this size is found quickly.
const MOST_PIXELS: u64 = 300_000;

pub(super) fn limits() -> Settings {
    Settings { max_pixels: MOST_PIXELS, max_side_px: 20_000, max_memory_bytes: 64 << 20 }
}

/// Small fixtures whose names end so.
fn fixtures(ending: &str) -> Vec<Vec<u8>> {
    let mut paths: Vec<_> = ["whole", "refused", "found"]
        .iter()
        .flat_map(|folder| fs::read_dir(format!("fixtures/hostile/{folder}")).into_iter().flatten())
        .map(|file| file.unwrap().path())
        .filter(|path| path.to_string_lossy().ends_with(ending) && path.metadata().unwrap().len() <= MOST_BYTES)
        .collect();
    paths.sort();
    paths.iter().map(|path| fs::read(path).unwrap()).collect()
}

/// What must hold of any picture that is read.
fn holds(result: &Result<Image, ImageError>) -> Outcome {
    let image = match result {
        Err(error) => {
            must(!error.to_string().is_empty() && error.help().ends_with('.'), "a refusal without a sentence")?;
            return Ok(format!("{error}"));
        }
        Ok(image) => image,
    };
    let (len, entries) = match &image.samples {
        Samples::Eight(v) => (v.len(), 256),
        Samples::Sixteen(v) => (v.len(), 65_536),
    };
    must(len == 3 * image.width * image.height, "samples do not fill the picture")?;
    must((image.width * image.height) as u64 <= MOST_PIXELS, "beyond the limit of pixels")?;
    must(image.linear.len() == entries, "the table of light has another length")?;
    must(image.linear.iter().all(|light| (0.0..=1.0).contains(light)), "light outside 0 to 1")?;
    must(image.linear.is_sorted(), "more is less light")?;
    let scale = image.tags.scale;
    must(scale.is_none_or(|s| s.um_per_px.is_finite() && s.um_per_px > 0.0), "a scale that is no length")?;
    must(image.tags.camera.as_ref().is_none_or(|c| !c.chars().any(char::is_control)), "a camera steers the terminal")?;
    let picture = image.picture(64);
    must(picture.width <= 64 && picture.height <= 64, "a picture beyond its size")?;
    let tags = &image.tags;
    let said = [scale.is_some(), tags.camera.is_some(), tags.captured_at.is_some(), image.linear[9] < 0.002];
    // The shape of the table of light, and how the picture is turned, tell profiles and notes apart.
    let tenth = (image.linear[entries / 2] * 10.0).round();
    Ok(format!(
        "{} {} {} {said:?} {} {:?}",
        tags.format,
        image.monochrome,
        image.width > image.height,
        letter(tenth),
        image.concerns
    ))
}

/// Outcomes are told apart by words, not by numbers.
fn letter(number: f32) -> char {
    char::from(b'a' + number as u8 % 26)
}

fn read(bytes: &[u8]) -> Outcome {
    let stated = stated_pixels(bytes);
    let result = from_bytes(bytes, &limits());
    if let (Ok(image), Some(stated)) = (&result, stated) {
        must(stated == (image.width * image.height) as u64, "the head states another size than is read")?;
    }
    holds(&result)
}

/// Files as they come.
pub(in super::super) fn files() -> World {
    World::new(fixtures(""), read)
}

/// PNG files whose sums were made to fit.
pub(in super::super) fn forged_png() -> World {
    World::new(fixtures(".png"), |bytes| read(&png_with_sums(bytes)))
}

/// Side of the pictures that notes are put into, pixels.
const SIDE: u32 = 6;

/// Another height, so that a turned picture shows.
const ROWS: u32 = 4;

fn part(name: &str, of: impl Fn(&mut dyn ImageDecoder) -> Option<Vec<u8>>) -> Option<Vec<u8>> {
    let bytes = fs::read(format!("fixtures/hostile/whole/{name}")).unwrap();
    let mut decoder = ImageReader::new(Cursor::new(bytes)).with_guessed_format().unwrap().into_decoder().unwrap();
    of(&mut decoder)
}

/// A colour profile in a PNG.
pub(in super::super) fn colour_profile() -> World {
    let names = ["srgb-profile.png", "p3.jpg", "grey-profile.png", "linear-profile.png", "p3-table.png"];
    let seeds = names.iter().filter_map(|name| part(name, |decoder| decoder.icc_profile().ok().flatten())).collect();
    World::new(seeds, |profile| {
        let mut png = Vec::new();
        let mut encoder = PngEncoder::new(&mut png);
        let grey = profile.len() % 3 == 0;
        if let Err(error) = encoder.set_icc_profile(profile.to_vec()) {
            return Ok(error.to_string());
        }
        let (samples, colour) = if grey { (1, ExtendedColorType::L8) } else { (3, ExtendedColorType::Rgb8) };
        let pixels: Vec<u8> = (0..SIDE * ROWS * samples).map(|i| (i * 37) as u8).collect();
        let encoded = encoder.write_image(&pixels, SIDE, ROWS, colour);
        if encoded.is_err() { Ok(told(&encoded)) } else { read(&png) }
    })
}

/// What a camera writes about a photo.
pub(in super::super) fn camera_notes() -> World {
    let names = ["held1.png", "held5.png", "held6.jpg", "held8.webp"];
    let seeds = names.iter().filter_map(|name| part(name, |decoder| decoder.exif_metadata().ok().flatten())).collect();
    World::new(seeds, |notes| {
        let mut jpeg = Vec::new();
        let mut encoder = JpegEncoder::new_with_quality(&mut jpeg, 90);
        if let Err(error) = encoder.set_exif_metadata(notes.to_vec()) {
            return Ok(error.to_string());
        }
        let pixels = vec![90; (SIDE * ROWS) as usize];
        let encoded = encoder.write_image(&pixels, SIDE, ROWS, ExtendedColorType::L8);
        if encoded.is_err() { Ok(told(&encoded)) } else { read(&jpeg) }
    })
}

/// OME-XML in a TIFF, as microscopes write it.
pub(in super::super) fn microscope_notes() -> World {
    let found = fixtures(".tif").into_iter().filter_map(|bytes| {
        let from = bytes.windows(4).position(|four| four == b"<OME" || four == b"<?xm")?;
        let to = bytes.windows(6).position(|six| six == b"</OME>")? + 6;
        bytes.get(from..to).map(<[u8]>::to_vec)
    });
    World::new(found.collect(), |notes| {
        let mut file = Cursor::new(Vec::new());
        let text = String::from_utf8_lossy(notes).replace('\0', " ");
        let written = TiffEncoder::new(&mut file).and_then(|mut tiff| {
            let mut image = tiff.new_image::<Gray16>(SIDE, ROWS)?;
            image.encoder().write_tag(Tag::ImageDescription, text.as_str())?;
            image.write_data(&vec![700u16; (SIDE * ROWS) as usize])
        });
        if written.is_err() { Ok(told(&written)) } else { read(&file.into_inner()) }
    })
}
