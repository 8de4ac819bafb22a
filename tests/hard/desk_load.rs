//! The desk as a program under load: fifty uploads at once, slow and broken connections, and a kill in the middle.
//!
//! `cargo test --release --test main hard::desk_load -- --nocapture` prints what was measured.

use std::fs;
use std::io::{BufRead, BufReader, Cursor, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::Mutex;
use std::thread::{scope, sleep};
use std::time::{Duration, Instant};

use image::{GrayImage, ImageFormat, Luma};
use pilumen::store::{Page, Store, check, digest};
use serde_json::{Value, json};

use super::damage::png_with_sums;

/// Photos that come at once.
const AT_ONCE: usize = 50;

/// The longest that a page waits for an answer while photos pour in; an idle machine gives it in a few milliseconds.
const LONGEST_ANSWER: Duration = Duration::from_secs(10);

/// A desk that was started as a program.
struct Running {
    program: Child,
    port: u16,
    key: String,
}

impl Running {
    fn start(record: &Path) -> Running {
        let mut program = Command::new(env!("CARGO_BIN_EXE_pilumen"))
            .args(["desk", "--no-browser", "--port", "0", "--by", "Test", "--record"])
            .arg(record)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(program.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let (port, key) = line
            .split_once("localhost:")
            .and_then(|(_, rest)| rest.trim().split_once("/enter?key="))
            .unwrap_or_else(|| panic!("{line:?} is no link"));
        Running { program, port: port.parse().unwrap(), key: key.to_owned() }
    }

    fn head(&self, method: &str, path: &str, length: usize) -> String {
        format!(
            "{method} {path} HTTP/1.1\r\nHost: 127.0.0.1:{0}\r\nOrigin: http://127.0.0.1:{0}\r\nSec-Fetch-Site: same-origin\r\n\
             Cookie: pilumen_desk={1}\r\nX-Desk-Token: {2}\r\nX-Desk-By: Test\r\nContent-Type: application/json\r\n\
             Content-Length: {length}\r\nConnection: close\r\n\r\n",
            self.port,
            self.key,
            digest(format!("token of {}", self.key).as_bytes())
        )
    }

    /// Status and JSON of an answer; `None` when the desk is gone.
    fn ask(&self, method: &str, path: &str, body: &[u8]) -> Option<(u16, Value)> {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).ok()?;
        stream.write_all(self.head(method, path, body.len()).as_bytes()).ok()?;
        stream.write_all(body).ok()?;
        answer(&mut stream)
    }

    fn told(&self, path: &str, body: &Value) -> Value {
        let (status, answer) = self.ask("POST", path, body.to_string().as_bytes()).unwrap();
        assert_eq!(status, 200, "{answer}");
        answer
    }

    /// A case with a slide; the slide's id.
    fn slide(&self) -> String {
        let animal = self.told("/api/cases", &json!({ "name": "Bracken" }));
        let path = format!("/api/cases/{}/slides", animal["id"].as_str().unwrap());
        self.told(&path, &json!({ "site": "left pinna", "day": "2026-03-01" }))["id"].as_str().unwrap().to_owned()
    }

    fn upload(&self, slide: &str, name: &str, query: &str, bytes: &[u8]) -> Option<(u16, Value)> {
        self.ask("POST", &format!("/api/slides/{slide}/photos?file={name}{query}"), bytes)
    }

    fn peak_mb(&self) -> u64 {
        let text = fs::read_to_string(format!("/proc/{}/status", self.program.id())).unwrap_or_default();
        let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        line.and_then(|line| line.trim().trim_end_matches(" kB").parse::<u64>().ok()).unwrap_or(0) >> 10
    }

    /// Waits until nothing waits to be read.
    fn all_read(&self) {
        let began = Instant::now();
        loop {
            // A desk that has only just begun may not answer yet; it has the same time as all the rest.
            let busy = self.ask("GET", "/api/queue", b"").map(|(_, queue)| {
                let jobs = queue["queue"].as_array().unwrap();
                jobs.iter().filter(|job| job["state"] == "waiting" || job["state"] == "reading").count()
            });
            if busy == Some(0) {
                return;
            }
            assert!(began.elapsed() < Duration::from_secs(600), "{busy:?} still wait");
            sleep(Duration::from_millis(100));
        }
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        // The signal that cannot be caught.
        let _ = self.program.kill();
        let _ = self.program.wait();
    }
}

fn answer(stream: &mut TcpStream) -> Option<(u16, Value)> {
    let mut text = Vec::new();
    stream.read_to_end(&mut text).ok()?;
    let end = text.windows(4).position(|four| four == b"\r\n\r\n")?;
    let head = String::from_utf8_lossy(&text[..end]).into_owned();
    let status = head.split(' ').nth(1)?.parse().ok()?;
    Some((status, serde_json::from_slice(&text[end + 4..]).unwrap_or(Value::Null)))
}

/// A small photo like no other of its number: two hairs on a dim ground.
fn small(number: usize) -> Vec<u8> {
    let at = number as f64;
    let photo = GrayImage::from_fn(96, 80, |x, y| {
        let (x, y) = (f64::from(x), f64::from(y));
        let hair = |from: f64, slope: f64, half: f64| (y - from - slope * x).abs() < half;
        let lit = hair(10.0 + at % 17.0, 0.3, 4.0) || hair(60.0 - at % 13.0, -0.1, 3.0);
        Luma([if lit { 150 } else { 20 } + ((x * 7.0 + y * 13.0 + at * 29.0) as u32 % 9) as u8])
    });
    encoded(&photo)
}

fn encoded(photo: &GrayImage) -> Vec<u8> {
    let mut file = Cursor::new(Vec::new());
    photo.write_to(&mut file, ImageFormat::Png).unwrap();
    file.into_inner()
}

#[test]
fn fifty_at_once_among_slow_and_broken_connections_are_all_kept_and_read() {
    let place = tempfile::tempdir().unwrap();
    let record = place.path().join("record");
    let desk = Running::start(&record);
    let slide = desk.slide();
    let before = desk.peak_mb();
    let began = Instant::now();
    let answers = Mutex::new(Vec::new());
    let slowest = Mutex::new(Duration::ZERO);
    scope(|scope| {
        for number in 0..AT_ONCE {
            let (desk, slide, answers) = (&desk, &slide, &answers);
            scope.spawn(move || {
                let answer = desk.upload(slide, &format!("{number}.png"), "", &small(number));
                answers.lock().unwrap().push((number, answer.expect("an answer")));
            });
        }
        // Connections that break off half way.
        for number in 0..8 {
            let (desk, slide) = (&desk, &slide);
            scope.spawn(move || {
                let bytes = small(1000 + number);
                let mut stream = TcpStream::connect(("127.0.0.1", desk.port)).unwrap();
                let head = desk.head("POST", &format!("/api/slides/{slide}/photos?file=half.png"), bytes.len());
                stream.write_all(head.as_bytes()).unwrap();
                let _ = stream.write_all(&bytes[..bytes.len() / 2]);
            });
        }
        // A few bytes at a time, as over a bad line; whole in the end.
        for number in 0..4 {
            let (desk, slide, answers) = (&desk, &slide, &answers);
            scope.spawn(move || {
                let bytes = small(AT_ONCE + number);
                let mut stream = TcpStream::connect(("127.0.0.1", desk.port)).unwrap();
                let head = desk.head("POST", &format!("/api/slides/{slide}/photos?file=slow{number}.png"), bytes.len());
                for part in head.as_bytes().chunks(64).chain(bytes.chunks(bytes.len() / 40)) {
                    stream.write_all(part).unwrap();
                    sleep(Duration::from_millis(40));
                }
                answers.lock().unwrap().push((AT_ONCE + number, answer(&mut stream).expect("an answer")));
            });
        }
        // Meanwhile a person looks at pages.
        for _ in 0..20 {
            let began = Instant::now();
            let (status, _) = desk.ask("GET", "/api/cases", b"").expect("the list");
            assert_eq!(status, 200);
            let mut slowest = slowest.lock().unwrap();
            *slowest = slowest.max(began.elapsed());
        }
    });
    let answers = answers.into_inner().unwrap();
    for (number, (status, answer)) in &answers {
        assert_eq!(*status, 200, "photo {number}: {answer}");
    }
    let took = began.elapsed();
    desk.all_read();
    let (peak, slowest) = (desk.peak_mb(), slowest.into_inner().unwrap());
    println!(
        "{} uploads kept in {:.1} s, all read in {:.1} s; slowest page meanwhile {:.0} ms; peak {before} MB before, {peak} MB after",
        answers.len(),
        took.as_secs_f64(),
        began.elapsed().as_secs_f64(),
        slowest.as_secs_f64() * 1e3
    );
    assert!(slowest < LONGEST_ANSWER, "a page waited {slowest:?}");

    // Whole photos only, each once, each with a reading that is that of its own bytes.
    let (_, told) = desk.ask("GET", &format!("/api/slides/{slide}"), b"").unwrap();
    let photos = told["photos"].as_array().unwrap();
    assert_eq!(photos.len(), AT_ONCE + 4, "broken uploads leave nothing");
    let store = Store::open(&record).unwrap();
    for photo in photos {
        let id = photo["id"].as_str().unwrap();
        let bytes = store.photo_bytes(id).unwrap();
        let readings = store.readings_of_photo(id).unwrap();
        assert_eq!(readings.len(), 1, "{photo}");
        let evaluation = store.evaluation(&readings[0].id).unwrap();
        assert_eq!(evaluation["photo"]["sha256"], digest(&bytes).as_str());
        let file = photo["file"].as_str().unwrap();
        let number: usize = match file.strip_prefix("slow") {
            Some(slow) => AT_ONCE + slow.trim_end_matches(".png").parse::<usize>().unwrap(),
            None => file.trim_end_matches(".png").parse().unwrap(),
        };
        assert!(bytes == small(number), "{file} holds another photo");
    }
    drop(desk);
    assert!(check(&record).unwrap().is_whole(), "the record is whole after the desk was killed");
}

#[test]
fn fifty_huge_photos_at_once_take_the_memory_of_a_few() {
    /// Columns and rows: 24 megapixels of nothing, a few kilobytes of file, 24 to 72 MB of pixels each.
    const SIDE: u32 = 4_900;
    /// Fifty would hold 3.6 GB at once.
    const MOST_MB: u64 = 900;
    let place = tempfile::tempdir().unwrap();
    let desk = Running::start(&place.path().join("record"));
    let slide = desk.slide();
    let n_kept = Mutex::new(0);
    let nothing = encoded(&GrayImage::new(SIDE, SIDE));
    // A remark that tells one from another, before the chunk that ends the file.
    let numbered = |number: u32| {
        let (pixels, end) = nothing.split_at(nothing.len() - 12);
        let remark = [&8u32.to_be_bytes()[..], b"tEXtn\0", format!("{number:06}").as_bytes(), &[0; 4]].concat();
        png_with_sums(&[pixels, &remark, end].concat())
    };
    scope(|scope| {
        for number in 0..AT_ONCE as u32 {
            let (desk, slide, n_kept, numbered) = (&desk, &slide, &n_kept, &numbered);
            scope.spawn(move || {
                let bytes = numbered(number);
                // Under white light it is kept and not read: what counts here is taking it in.
                let (status, answer) = desk.upload(slide, &format!("{number}.png"), "&light=visible", &bytes).unwrap();
                assert_eq!(status, 200, "{answer}");
                *n_kept.lock().unwrap() += 1;
            });
        }
    });
    let peak = desk.peak_mb();
    println!("{} photos of 24 megapixels taken in at once: peak {peak} MB", n_kept.into_inner().unwrap());
    assert!(peak < MOST_MB, "{peak} MB");
}

#[test]
fn what_was_acknowledged_before_a_kill_is_kept_and_read_after_it() {
    let place = tempfile::tempdir().unwrap();
    let record = place.path().join("record");
    let desk = Running::start(&record);
    let slide = desk.slide();
    let acknowledged = Mutex::new(Vec::new());
    scope(|scope| {
        for number in 0..AT_ONCE {
            let (desk, slide, acknowledged) = (&desk, &slide, &acknowledged);
            scope.spawn(move || {
                if let Some((200, answer)) = desk.upload(slide, &format!("{number}.png"), "", &small(number)) {
                    acknowledged.lock().unwrap().push(answer["photo"]["id"].as_str().unwrap().to_owned());
                }
            });
        }
        // In the middle: some are acknowledged, some under way.
        while acknowledged.lock().unwrap().len() < AT_ONCE / 4 {
            sleep(Duration::from_millis(1));
        }
        let killed = Command::new("kill").args(["-9", &desk.program.id().to_string()]).status().unwrap();
        assert!(killed.success());
    });
    drop(desk);
    let acknowledged = acknowledged.into_inner().unwrap();
    assert!(check(&record).unwrap().is_whole(), "nothing is half there");
    let left: Vec<_> = fs::read_dir(&record)
        .unwrap()
        .map(|file| file.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.starts_with(".tmp"))
        .collect();
    assert!(left.len() <= 1, "half uploads lie about: {left:?}");

    let desk = Running::start(&record);
    desk.all_read();
    let store = Store::open(&record).unwrap();
    for id in &acknowledged {
        assert!(!store.photo_bytes(id).unwrap().is_empty(), "{id}");
        // Twice where the kill fell between keeping a reading and noting that it was kept.
        let n_readings = store.readings_of_photo(id).unwrap().len();
        assert!((1..=2).contains(&n_readings), "{id} was read {n_readings} times");
    }
    let n_kept = store.counts().unwrap()["photo"];
    println!("killed after {} acknowledgements: {n_kept} photos kept, all acknowledged ones read", acknowledged.len());
    assert!(store.animals(Page::default()).unwrap().len() == 1 && n_kept >= acknowledged.len() as u64);
}
