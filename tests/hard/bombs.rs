//! Small files that claim or unpack to huge pictures, and input that is deep or endless: refused quickly, in little
//! memory, each in a program of its own whose peak is measured.
//!
//! `cargo test --release --test main hard::bombs -- --nocapture` prints the peaks.

use std::fs;
use std::io::{Cursor, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use flate2::{Compression, write::ZlibEncoder};
use image::codecs::webp::WebPEncoder;
use image::{ExtendedColorType, ImageEncoder};
use tiff::encoder::{TiffEncoder, colortype::RGB8};

/// What the program takes before it reads anything: its code, its model, its threads' stacks.
const PROGRAM_MB: u64 = 60;

/// The longest that a refusal may take on a busy machine.
const LONGEST: Duration = Duration::from_secs(15);

/// What became of a program.
struct Ran {
    peak_mb: u64,
    took: Duration,
    code: Option<i32>,
    said: String,
}

/// Runs the program and follows its peak of memory until it ends.
fn run(arguments: &[&str], folder: &Path) -> Ran {
    let began = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_pilumen"))
        .args(arguments)
        .current_dir(folder)
        .env("PILUMEN_RECORD", folder.join("record"))
        .env("PILUMEN_BY", "Test")
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let status = format!("/proc/{}/status", child.id());
    let mut peak_kb = 0;
    let code = loop {
        // The peak only grows, so the last look before the end sees what went before.
        let text = fs::read_to_string(&status).unwrap_or_default();
        let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        let kb = line.and_then(|line| line.trim().trim_end_matches(" kB").parse().ok());
        peak_kb = peak_kb.max(kb.unwrap_or(0));
        if let Some(status) = child.try_wait().unwrap() {
            break status.code();
        }
        std::thread::sleep(Duration::from_micros(300));
    };
    let mut said = String::new();
    std::io::Read::read_to_string(&mut child.stderr.take().unwrap(), &mut said).unwrap();
    Ran { peak_mb: peak_kb >> 10, took: began.elapsed(), code, said }
}

fn png(width: u32, height: u32, bytes_a_pixel: u8, unpacked: usize) -> Vec<u8> {
    let colour = if bytes_a_pixel == 1 { 0 } else { 2 };
    let depth = if bytes_a_pixel == 6 { 16 } else { 8 };
    let mut file = b"\x89PNG\r\n\x1a\n".to_vec();
    let mut chunk = |kind: &[u8; 4], data: &[u8]| {
        let mut sum = flate2::Crc::new();
        sum.update(kind);
        sum.update(data);
        file.extend((data.len() as u32).to_be_bytes());
        file.extend(kind);
        file.extend(data);
        file.extend(sum.sum().to_be_bytes());
    };
    let head = [&width.to_be_bytes()[..], &height.to_be_bytes(), &[depth, colour, 0, 0, 0]].concat();
    chunk(b"IHDR", &head);
    let mut packed = ZlibEncoder::new(Vec::new(), Compression::best());
    let zeros = vec![0; 1 << 20];
    for _ in 0..unpacked >> 20 {
        packed.write_all(&zeros).unwrap();
    }
    chunk(b"IDAT", &packed.finish().unwrap());
    chunk(b"IEND", &[]);
    file
}

fn tiff(side: u32) -> Vec<u8> {
    let mut file = Cursor::new(Vec::new());
    let mut encoder =
        TiffEncoder::new(&mut file).unwrap().with_compression(tiff::encoder::Compression::Deflate(Default::default()));
    let image = encoder.new_image::<RGB8>(side, side).unwrap();
    image.write_data(&vec![0; 3 * (side * side) as usize]).unwrap();
    file.into_inner()
}

fn webp(side: u32) -> Vec<u8> {
    let mut file = Vec::new();
    let pixels = vec![0; 3 * (side * side) as usize];
    WebPEncoder::new_lossless(&mut file).write_image(&pixels, side, side, ExtendedColorType::Rgb8).unwrap();
    file
}

/// Bytes with four bytes replaced where `find` first stands.
fn with(mut bytes: Vec<u8>, find: &[u8], put: &[u8]) -> Vec<u8> {
    let at = bytes.windows(find.len()).position(|window| window == find).expect("it is there");
    bytes[at..at + put.len()].copy_from_slice(put);
    bytes
}

#[test]
fn what_claims_to_be_huge_is_refused_in_little_memory() {
    let place = tempfile::tempdir().unwrap();
    // Files that claim more pixels than the limit allows, with up to 64 MB of zeros packed behind the claim.
    let claims: [(&str, Vec<u8>); 5] = [
        ("claim.png", png(40_000, 40_000, 3, 64 << 20)),
        ("sixteen.png", png(49_999, 49_999, 6, 1 << 20)),
        ("claim.tif", with(tiff(64), &[0, 1, 4, 0, 1, 0, 0, 0, 64], &[0, 1, 4, 0, 1, 0, 0, 0, 255])),
        ("huge.webp", fs::read("fixtures/hostile/refused/huge.webp").unwrap()),
        ("huge.jpg", fs::read("fixtures/hostile/refused/huge.jpg").unwrap()),
    ];
    for (name, bytes) in claims {
        let n_bytes = bytes.len();
        fs::write(place.path().join(name), bytes).unwrap();
        let ran = run(&["read", name], place.path());
        println!(
            "{name}: {} kB, peak {} MB, {:.2} s: {}",
            n_bytes >> 10,
            ran.peak_mb,
            ran.took.as_secs_f64(),
            ran.said.trim()
        );
        assert_eq!(ran.code, Some(1), "{name}: {}", ran.said);
        assert!(ran.peak_mb < PROGRAM_MB + 2 * (n_bytes as u64 >> 20), "{name} took {} MB", ran.peak_mb);
        assert!(ran.took < LONGEST, "{name} took {:?}", ran.took);
    }
}

#[test]
fn a_picture_within_the_limits_that_unpacks_from_nothing_takes_what_its_pixels_take() {
    // 36 megapixels of nothing: allowed by the limit of pixels, a few kilobytes on the disk. Reading it may take what
    // any photo of that size may take, and not more.
    const SIDE: u32 = 6_000;
    const MOST_BYTES_A_PIXEL: u64 = 40;
    let place = tempfile::tempdir().unwrap();
    let n_px = u64::from(SIDE) * u64::from(SIDE);
    let rows = (3 * SIDE as usize + 1) * SIDE as usize;
    let bombs = [
        ("black.png", png(SIDE, SIDE, 3, rows.next_multiple_of(1 << 20))),
        ("black.tif", tiff(SIDE)),
        ("black.webp", webp(SIDE)),
    ];
    for (name, bytes) in bombs {
        fs::write(place.path().join(name), &bytes).unwrap();
        let ran = run(&["read", name], place.path());
        println!(
            "{name}: {} kB, peak {} MB, {:.1} bytes a pixel, {:.1} s, exit code {:?} {}",
            bytes.len() >> 10,
            ran.peak_mb,
            (ran.peak_mb << 20) as f64 / n_px as f64,
            ran.took.as_secs_f64(),
            ran.code,
            ran.said.trim()
        );
        assert!(matches!(ran.code, Some(0 | 1)), "{name}: {}", ran.said);
        assert!(ran.peak_mb << 20 < MOST_BYTES_A_PIXEL * n_px + (PROGRAM_MB << 20), "{name} took {} MB", ran.peak_mb);
        let limited = run(&["read", name, "--max-megapixels", "10"], place.path());
        assert_eq!(limited.code, Some(1), "the limit on pixels is held");
        assert!(limited.peak_mb < PROGRAM_MB + 2 * (bytes.len() as u64 >> 20), "{name} took {} MB", limited.peak_mb);
    }
}

#[test]
fn deep_and_endless_input_is_refused_quickly() {
    let place = tempfile::tempdir().unwrap();
    let put = |name: &str, bytes: &[u8]| fs::write(place.path().join(name), bytes).unwrap();
    put("deep.json", "[".repeat(1 << 20).as_bytes());
    put("deeper.json", "{\"a\":".repeat(1 << 20).as_bytes());
    put("long.json", format!("{{\"animal\":\"{}\"}}", "x".repeat(30 << 20)).as_bytes());
    put("photo.png", &fs::read("fixtures/micrographs/particles/fl_001.png").unwrap());
    let xml = format!("<?xml version=\"1.0\"?><OME>{}</OME>", "<a>".repeat(200_000));
    let many = format!("<!DOCTYPE OME [<!ENTITY a \"{}\">]><OME>{}</OME>", "x".repeat(1000), "&a;".repeat(60_000));
    for (name, notes) in [("deep.tif", xml), ("many.tif", many)] {
        let mut file = Cursor::new(Vec::new());
        let mut encoder = TiffEncoder::new(&mut file).unwrap();
        let mut image = encoder.new_image::<RGB8>(64, 64).unwrap();
        image.encoder().write_tag(tiff::tags::Tag::ImageDescription, notes.as_str()).unwrap();
        image.write_data(&vec![9; 3 * 64 * 64]).unwrap();
        put(name, &file.into_inner());
    }
    let runs: [(&[&str], i32); 8] = [
        (&["read", "photo.png", "--model", "deep.json"], 2),
        (&["read", "photo.png", "--model", "deeper.json"], 2),
        (&["read", "photo.png", "--setup", "a", "--setups", "deep.json"], 2),
        (&["report", "photo.png", "--case-facts", "deep.json", "--out", "r.pdf"], 2),
        (&["report", "photo.png", "--case-facts", "long.json", "--out", "r.pdf"], 2),
        (&["unpack", "deep.json"], 1),
        (&["read", "deep.tif"], 0),
        (&["read", "many.tif"], 0),
    ];
    for (arguments, code) in runs {
        let ran = run(arguments, place.path());
        println!(
            "{arguments:?}: {:?}, peak {} MB, {:.2} s: {}",
            ran.code,
            ran.peak_mb,
            ran.took.as_secs_f64(),
            ran.said.trim()
        );
        assert_eq!(ran.code, Some(code), "{arguments:?}: {}", ran.said);
        assert!(ran.took < LONGEST, "{arguments:?} took {:?}", ran.took);
        assert!(ran.peak_mb < 400, "{arguments:?} took {} MB", ran.peak_mb);
        if code != 0 {
            assert!(ran.said.starts_with("pilumen: "), "{arguments:?}: {:?} {}", ran.code, ran.said);
        }
    }
}
