//! The desk's router without a port: who is let in, what is refused, and that what is told is kept.

use axum::body::Body;
use axum::http::{Method, Request, StatusCode, header};
use pilumen::web::PAGES;
use serde_json::{Value, json};

use crate::ruling::Ruled;

mod page;

pub(crate) use page::{HOST, Page};

const PHOTO: &[u8] = include_bytes!("../fixtures/demo/quillfeather-moth-left-pinna.jpg");

fn sentence(answer: &Value) -> &str {
    answer["sentence"].as_str().unwrap_or_else(|| panic!("a refusal has a sentence: {answer}"))
}

#[test]
fn only_the_desks_own_pages_are_answered() {
    let page = Page::new();
    let ask = |headers: &[(&str, &str)]| {
        let mut request = Request::builder().uri("/api/start");
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        page.send(request.body(Body::empty()).unwrap()).0
    };
    let cookie = page.cookie();
    let own = ("host", HOST);
    assert_eq!(ask(&[own, ("cookie", &cookie)]), StatusCode::OK);
    assert_eq!(ask(&[own]), StatusCode::UNAUTHORIZED, "without the cookie");
    assert_eq!(ask(&[own, ("cookie", "pilumen_desk=0")]), StatusCode::UNAUTHORIZED);
    for host in
        ["evil.example", "evil.example:4807", "127.0.0.1:4808", "192.0.2.1:4807", "127.0.0.1.evil.example:4807", ""]
    {
        assert_eq!(ask(&[("host", host), ("cookie", &cookie)]), StatusCode::MISDIRECTED_REQUEST, "{host}");
    }
    assert_eq!(ask(&[("cookie", &cookie)]), StatusCode::MISDIRECTED_REQUEST, "without a host");
    assert_eq!(ask(&[own, ("host", "evil.example"), ("cookie", &cookie)]), StatusCode::FORBIDDEN, "with two");
    for origin in
        ["http://evil.example", "null", "https://127.0.0.1:4807", "http://127.0.0.1:4808", "http://localhost:4807"]
    {
        assert_eq!(ask(&[own, ("origin", origin), ("cookie", &cookie)]), StatusCode::FORBIDDEN, "{origin}");
    }
    for site in ["cross-site", "same-site"] {
        assert_eq!(ask(&[own, ("sec-fetch-site", site), ("cookie", &cookie)]), StatusCode::FORBIDDEN, "{site}");
    }
}

#[test]
fn what_changes_something_needs_the_token() {
    let page = Page::new();
    let ask = |token: Option<&str>, method: Method| {
        let mut request = Request::builder().method(method).uri("/api/cases").header(header::HOST, HOST);
        request = request.header(header::COOKIE, page.cookie()).header(header::CONTENT_TYPE, "application/json");
        if let Some(token) = token {
            request = request.header("x-desk-token", token);
        }
        page.send(request.header("x-desk-by", "x").body(Body::from(r#"{"name":"Moth"}"#)).unwrap()).0
    };
    assert_eq!(ask(None, Method::POST), StatusCode::FORBIDDEN);
    assert_eq!(ask(Some("0"), Method::POST), StatusCode::FORBIDDEN);
    assert_eq!(ask(Some(page.desk.key()), Method::POST), StatusCode::FORBIDDEN, "the key is not the token");
    for method in [Method::PUT, Method::DELETE, Method::PATCH] {
        assert_eq!(ask(None, method.clone()), StatusCode::FORBIDDEN, "{method}");
    }
    assert!(page.get("/api/cases").1["cases"].as_array().unwrap().is_empty());
    assert_eq!(ask(Some(&page.desk.token()), Method::POST), StatusCode::OK);
}

#[test]
fn the_link_lets_in_and_nothing_else_does() {
    let page = Page::new();
    let open = |path: &str, site: &str| {
        let request = Request::builder().uri(path).header(header::HOST, HOST).header("sec-fetch-site", site);
        page.send(
            request.header("sec-fetch-mode", "navigate").header("accept", "text/html").body(Body::empty()).unwrap(),
        )
    };
    let (status, _, answer) = open(&format!("/enter?key={}", page.desk.key()), "none");
    assert_eq!(status, StatusCode::SEE_OTHER);
    let cookie = answer.headers()[header::SET_COOKIE].to_str().unwrap();
    for part in ["HttpOnly", "SameSite=Strict", "Path=/"] {
        assert!(cookie.contains(part), "{cookie}");
    }
    for path in ["/enter", "/enter?key=", "/enter?key=0000", "/enter?key=%00"] {
        let (status, _, answer) = open(path, "none");
        assert_eq!(status, StatusCode::UNAUTHORIZED, "{path}");
        assert!(!answer.headers().contains_key(header::SET_COOKIE));
    }
    let (status, body, _) = open("/", "none");
    assert_eq!(status, StatusCode::UNAUTHORIZED);
    assert!(String::from_utf8(body).unwrap().contains("open the link"), "a person is told what to do");
}

#[test]
fn every_answer_forbids_what_pages_do_not_need() {
    let page = Page::new();
    let paths =
        ["/", "/slides/demo", "/files/js/desk.js", "/api/start", "/nothing", "/files/nothing", "/api/photos/x/bytes"];
    for path in paths {
        for cookie in [page.cookie(), String::new()] {
            let request = Request::builder().uri(path).header(header::HOST, HOST).header(header::COOKIE, cookie);
            let (_, _, answer) = page.send(request.body(Body::empty()).unwrap());
            let policy = answer.headers()[header::CONTENT_SECURITY_POLICY].to_str().unwrap();
            for part in ["default-src 'none'", "script-src 'self'", "frame-ancestors 'none'", "base-uri 'none'"] {
                assert!(policy.contains(part), "{path}: {policy}");
            }
            assert!(!policy.contains("unsafe"), "{policy}");
            assert_eq!(answer.headers()["x-content-type-options"], "nosniff");
            assert!(!answer.headers().contains_key("access-control-allow-origin"));
        }
    }
}

#[test]
fn pages_hold_no_script_or_style_of_their_own_and_load_only_their_files() {
    let page = Page::new();
    for (path, script, _) in PAGES {
        let (status, body, answer) =
            page.send(page.request(Method::GET, &path.replace("{id}", "demo")).body(Body::empty()).unwrap());
        assert_eq!(status, StatusCode::OK, "{path}");
        assert!(answer.headers()[header::CONTENT_TYPE].to_str().unwrap().starts_with("text/html"));
        let html = String::from_utf8(body).unwrap();
        for forbidden in ["<style", " style=", " onclick=", " onload=", "javascript:", "http:", "https:", "//"] {
            assert!(!html.contains(forbidden), "{path} holds {forbidden}");
        }
        assert!(html.split("<script").skip(1).all(|tag| tag.contains(" src=\"/files/js/")), "{path}");
        assert!(std::path::Path::new(&format!("src/web/assets/js/{script}.js")).exists());
    }
}

#[test]
fn files_elsewhere_cannot_be_had() {
    let page = Page::new();
    std::fs::write(page.place.path().join("record/secret.js"), "x").unwrap();
    for path in [
        "/files/../../Cargo.toml",
        "/files/%2e%2e/%2e%2e/Cargo.toml",
        "/files/..%2f..%2fCargo.toml",
        "/files//etc/passwd",
        "/files/js/../../../mod.rs",
        "/files/js/%00",
        "/files/shell.html",
        "/files/js",
        "/files/C:%5Cx",
        "/files/%ff",
        "/api/photos/..%2f..%2frecord.db/bytes",
        "/api/photos/%2e%2e/bytes",
        "/api/photos/x/files/..%2f..",
        "/api/slides/%00",
        "/api/cases/'%20or%201=1",
        "/desk.key",
        "/record.db",
    ] {
        let (status, body, _) = page.send(page.request(Method::GET, path).body(Body::empty()).unwrap());
        assert!(status.is_client_error(), "{path}: {status}");
        assert!(!String::from_utf8_lossy(&body).contains("[package]"), "{path}");
    }
}

#[test]
fn what_is_no_photo_is_refused_and_nothing_of_it_is_kept() {
    let page = Page::new();
    let (_, slide) = page.slide("Bracken");
    let mut n = 0;
    for file in std::fs::read_dir("fixtures/hostile/refused").unwrap() {
        let path = file.unwrap().path();
        let bytes = std::fs::read(&path).unwrap();
        let (status, answer) = page.upload(&slide, "file=a.jpg", &bytes);
        assert!(status.is_client_error(), "{}: {status} {answer}", path.display());
        assert!(sentence(&answer).len() > 20);
        n += 1;
    }
    assert!(n > 30, "{n} hostile files were tried");
    let page_of_slide = page.get(&format!("/api/slides/{slide}")).1;
    assert!(page_of_slide["photos"].as_array().unwrap().is_empty());
    assert!(page.get("/api/queue").1["queue"].as_array().unwrap().is_empty());
}

#[test]
fn too_many_bytes_and_too_many_pixels_are_refused() {
    let page = Page::new();
    let (_, slide) = page.slide("Bracken");
    let (status, _) = page.upload(&slide, "file=a.jpg", &vec![0xff; 2_000_001]);
    assert_eq!(status, StatusCode::PAYLOAD_TOO_LARGE);
    // Without saying how long it is.
    let stream = Body::from_stream(tokio_stream::iter((0..64).map(|_| Ok::<_, std::io::Error>(vec![0u8; 65_536]))));
    let request = page.request(Method::POST, &format!("/api/slides/{slide}/photos?file=a.jpg")).body(stream).unwrap();
    assert_eq!(page.send(request).0, StatusCode::PAYLOAD_TOO_LARGE);
    // 25 million pixels in a few kilobytes, where 20 million are the limit.
    let mut png = std::io::Cursor::new(Vec::new());
    image::GrayImage::new(5000, 5000).write_to(&mut png, image::ImageFormat::Png).unwrap();
    let png = png.into_inner();
    assert!(png.len() < 200_000, "{}", png.len());
    let (status, answer) = page.upload(&slide, "file=a.png", &png);
    assert_eq!(status, StatusCode::PAYLOAD_TOO_LARGE, "{answer}");
    assert!(sentence(&answer).contains("pixel"), "{answer}");
}

#[test]
fn names_that_are_script_stay_names() {
    let page = Page::new();
    let evil = "<img src=x onerror=alert(1)><script>alert(2)</script>\"'`&";
    let (animal, slide) = page.slide(evil);
    let request = page.request(Method::GET, &format!("/api/cases/{animal}")).body(Body::empty()).unwrap();
    let (status, body, answer) = page.send(request);
    assert_eq!(status, StatusCode::OK);
    assert_eq!(answer.headers()[header::CONTENT_TYPE], "application/json", "a browser does not read it as a page");
    let case: Value = serde_json::from_slice(&body).unwrap();
    assert_eq!(case["animal"]["fact"]["name"], evil);
    let (_, html, _) = page.send(page.request(Method::GET, &format!("/cases/{animal}")).body(Body::empty()).unwrap());
    assert!(!String::from_utf8(html).unwrap().contains("onerror"), "pages hold nothing of the record");
    let query = "file=..%2F..%2F%3Cscript%3Ealert(1)%3C%2Fscript%3E.jpg";
    let (status, photo) = page.upload(&slide, query, PHOTO);
    assert_eq!(status, StatusCode::OK, "{photo}");
    assert_eq!(photo["photo"]["fact"]["file"], "script>.jpg", "the name without folders");
    let (status, _, answer) =
        page.send(page.request(Method::GET, &format!("/api/cases/{animal}/pack")).body(Body::empty()).unwrap());
    assert_eq!(status, StatusCode::OK);
    let disposition = answer.headers()[header::CONTENT_DISPOSITION].to_str().unwrap();
    assert!(disposition.starts_with("attachment; filename*=UTF-8''%3Cimg"), "{disposition}");
    for name in ["a\r\nset-cookie: x=y", "\u{1b}[2J"] {
        assert_eq!(page.post("/api/cases", &json!({ "name": name })).0, StatusCode::UNPROCESSABLE_ENTITY, "{name:?}");
    }
}

#[test]
fn what_cannot_be_kept_is_refused_with_a_sentence() {
    let page = Page::new();
    let (animal, slide) = page.slide("Moth");
    for (path, body) in [
        ("/api/cases".to_owned(), json!({})),
        ("/api/cases".to_owned(), json!({ "name": "" })),
        ("/api/cases".to_owned(), json!({ "name": "x", "is_admin": true })),
        (format!("/api/cases/{animal}/slides"), json!({ "site": "elbow", "day": "2026-01-01" })),
        (format!("/api/cases/{animal}/slides"), json!({ "site": "chin", "day": "9999-01-01" })),
        (format!("/api/cases/{slide}/exams"), json!({ "day": "2026-01-01", "sites": [] })),
        (format!("/api/cultures/{animal}/plates"), json!({ "day": "2026-01-01", "growth": "none", "last": false })),
        ("/api/cases/none/cultures".to_owned(), json!({ "day": "2026-01-01", "medium": "x", "other_test": false })),
        (format!("/api/readings/{slide}/corrections"), json!({ "changes": [{ "what": "withdrawn" }], "why": "x" })),
        (format!("/api/readings/{slide}/corrections"), json!({ "changes": "x", "why": 3 })),
    ] {
        let (status, answer) = page.post(&path, &body);
        assert!(status.is_client_error(), "{path} {body}: {status} {answer}");
        assert!(sentence(&answer).len() > 10);
    }
    let (status, answer) = page.upload(&slide, "file=a.jpg&um_per_px=-3", PHOTO);
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{answer}");
    let request = page.request(Method::POST, "/api/cases").header(header::CONTENT_TYPE, "application/json");
    assert!(page.send(request.body(Body::from("{{{")).unwrap()).0.is_client_error());
}

#[test]
fn from_a_photo_to_a_corrected_reading_and_its_files() {
    let page = Page::new();
    let (animal, slide) = page.slide("Moth");
    let (status, kept) = page.upload(&slide, "file=moth.jpg&um_per_px=0.5", PHOTO);
    assert_eq!(status, StatusCode::OK, "{kept}");
    assert_eq!(kept["photo"]["by"], "Test É");
    let photo = kept["photo"]["id"].as_str().unwrap().to_owned();
    assert_eq!(page.upload(&slide, "file=moth.jpg", PHOTO).0, StatusCode::CONFLICT, "the same photo twice");
    let read = page.wait_for_reading(&photo);
    let shafts = read["evaluation"]["shafts"].as_array().unwrap();
    assert!(shafts.len() > 5);
    assert_eq!(read["evaluation"]["photo"]["um_per_px"], 0.5);

    let (first, second) = (shafts[0]["id"].as_u64().unwrap(), shafts[1]["id"].as_u64().unwrap());
    let line = &shafts[1]["centreline_px"];
    let last = line.as_array().unwrap().len() - 1;
    let corrections = format!("/api/readings/{}/corrections", read["reading"].as_str().unwrap());
    let changes = json!([
        { "what": "look", "shaft": first, "look": "coated" },
        { "what": "not-a-shaft", "shaft": second },
        { "what": "missed-shaft", "centreline_px": [line[0], line[last / 3], line[2 * last / 3], line[last]] },
    ]);
    let (status, stands) = page.post(&corrections, &json!({ "changes": changes, "why": "seen by eye" }));
    assert_eq!(status, StatusCode::OK, "{stands}");
    let looks = stands["evaluation"]["shafts"].as_array().unwrap();
    assert_eq!(looks.iter().find(|shaft| shaft["id"] == first).unwrap()["class"], "coated");
    assert_eq!(stands["corrections"].as_array().unwrap().len(), 3);
    assert_eq!(stands["looks_by_people"], json!([first]));
    assert_eq!(page.get(&format!("/api/photos/{photo}/reading")).1, stands, "asked again it is the same");

    let back = stands["corrections"][1]["id"].as_str().unwrap();
    let (status, after) = page.post(&format!("{corrections}/{back}/withdraw"), &json!({}));
    assert_eq!(status, StatusCode::OK, "{after}");
    assert_eq!(after["corrections"].as_array().unwrap().len(), 2);

    for (kind, start) in [("json", b"{\"schema\"".as_slice()), ("csv", b"photo"), ("marked", b"\x89PNG")] {
        let path = format!("/api/photos/{photo}/files/{kind}");
        let (status, bytes, _) = page.send(page.request(Method::GET, &path).body(Body::empty()).unwrap());
        assert_eq!(status, StatusCode::OK, "{kind}");
        assert!(bytes.starts_with(start), "{kind}: {:?}", &bytes[..20]);
    }
    for (kind, language) in [("report", "en"), ("report", "es"), ("slip", "en")] {
        let path = format!("/api/photos/{photo}/paper/{kind}?language={language}");
        let (status, bytes, _) = page.send(page.request(Method::GET, &path).body(Body::empty()).unwrap());
        assert_eq!(status, StatusCode::OK, "{kind}: {}", String::from_utf8_lossy(&bytes[..bytes.len().min(200)]));
        assert!(bytes.starts_with(b"%PDF-"), "{kind}");
    }
    let case = page.get(&format!("/api/cases/{animal}")).1;
    let seen = case["slides"][0]["shafts"].as_array().unwrap();
    assert!(
        seen.iter().any(|shaft| shaft["look"] == "coated" && shaft["look_by_person"] == true),
        "the case knows it too"
    );
    let (status, bytes, answer) =
        page.send(page.request(Method::GET, &format!("/api/photos/{photo}/bytes")).body(Body::empty()).unwrap());
    assert_eq!((status, bytes.as_slice()), (StatusCode::OK, PHOTO), "the photo as it came");
    assert_eq!(answer.headers()[header::CONTENT_TYPE], "image/jpeg");
}

#[test]
fn a_setup_is_measured_saved_used_and_removed_and_readings_keep_their_scale() {
    let page = Page::new();
    let ruled = Ruled { width: 720, height: 540, ..Ruled::plain(18.4, 23.0, 5) };
    let drop = |bytes: Vec<u8>| {
        let request = page.request(Method::POST, "/api/setups/photos?file=lines.png");
        let request = request.header(header::CONTENT_TYPE, "application/octet-stream").body(Body::from(bytes));
        let (status, bytes, _) = page.send(request.unwrap());
        (status, serde_json::from_slice::<Value>(&bytes).unwrap())
    };
    let (status, refused) = drop(PHOTO.to_vec());
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused["words"]["es"].as_str().unwrap().contains("no se ven líneas regulares"), "{refused}");
    let (status, photo) = drop(ruled.png());
    assert_eq!(status, StatusCode::OK, "{photo}");
    let asking = |name: Option<&str>| json!({ "photos": [photo["id"]], "pitch_um": 10.0, "name": name });
    let (_, told) = page.post("/api/setups/scale", &asking(None));
    let truth = 10.0 * ruled.lines_per_px();
    assert!((told["setup"]["um_per_px"].as_f64().unwrap() / truth - 1.0).abs() < 2e-3, "{told}");
    assert_eq!(told["saved"], false);
    let codes: Vec<&str> =
        told["setup"]["concerns"].as_array().unwrap().iter().filter_map(|one| one["code"].as_str()).collect();
    assert!(codes.contains(&"squareness-unknown"), "{codes:?}");
    assert_eq!(page.get("/api/setups").1["setups"], json!([]), "only told");
    assert_eq!(page.post("/api/setups/scale", &asking(Some("10x phone"))).0, StatusCode::OK);
    assert_eq!(page.post("/api/setups/scale", &asking(Some("10X Phone"))).0, StatusCode::CONFLICT);
    assert_eq!(
        page.post("/api/setups/scale", &json!({ "photos": ["none"], "pitch_um": 10.0 })).0,
        StatusCode::NOT_FOUND
    );
    assert_eq!(
        page.post("/api/setups/scale", &json!({ "photos": [photo["id"]], "pitch_um": -1.0 })).0,
        StatusCode::UNPROCESSABLE_ENTITY
    );
    assert_eq!(page.get("/api/setups").1["setups"][0]["name"], "10x phone");

    let (_, slide) = page.slide("Moth");
    assert_eq!(page.upload(&slide, "file=a.jpg&setup=none", PHOTO).0, StatusCode::NOT_FOUND);
    assert_eq!(
        page.upload(&slide, "file=a.jpg&setup=10x%20phone&um_per_px=1", PHOTO).0,
        StatusCode::UNPROCESSABLE_ENTITY
    );
    let (_, kept) = page.upload(&slide, "file=a.jpg&setup=10x%20phone", PHOTO);
    let photo = kept["photo"]["id"].as_str().unwrap().to_owned();
    let before = page.wait_for_reading(&photo);
    assert_eq!(before["evaluation"]["photo"]["setup"], "10x phone");
    let concern = |reading: &Value| {
        let all = reading["evaluation"]["quality"]["concerns"].as_array().unwrap().clone();
        all.into_iter().find(|one| one["code"] == "setup-other-size")
    };
    assert!(concern(&before).is_some(), "the lines were photographed in another size");
    assert_eq!(page.post("/api/setups/remove", &json!({ "name": "10x phone" })).0, StatusCode::OK);
    assert_eq!(page.post("/api/setups/remove", &json!({ "name": "10x phone" })).0, StatusCode::NOT_FOUND);
    // Corrected after the setup is gone: measured again with the scale it had.
    let shaft = before["evaluation"]["shafts"][0]["id"].clone();
    let path = format!("/api/readings/{}/corrections", before["reading"].as_str().unwrap());
    let say = json!({ "changes": [{ "what": "look", "shaft": shaft, "look": "coated" }], "why": "seen by eye" });
    let (status, after) = page.post(&path, &say);
    assert_eq!(status, StatusCode::OK, "{after}");
    for member in ["um_per_px", "setup"] {
        assert_eq!(after["evaluation"]["photo"][member], before["evaluation"]["photo"][member], "{member}");
    }
    assert_eq!(after["evaluation"]["shafts"][0]["width"], before["evaluation"]["shafts"][0]["width"]);
    assert_eq!(concern(&after), concern(&before));
}

#[test]
fn a_queue_goes_on_after_a_restart_and_what_is_taken_out_is_not_read() {
    let page = Page::with(tempfile::tempdir().unwrap(), 0);
    let (_, slide) = page.slide("Tansy");
    let photos: Vec<String> = (0..3)
        .map(|i| {
            // The same picture with other bytes behind its end, so that it is another file.
            let mut bytes = PHOTO.to_vec();
            bytes.push(i);
            let (status, kept) = page.upload(&slide, &format!("file={i}.jpg"), &bytes);
            assert_eq!(status, StatusCode::OK, "{kept}");
            kept["photo"]["id"].as_str().unwrap().to_owned()
        })
        .collect();
    assert_eq!(page.post(&format!("/api/queue/{}/cancel", photos[1]), &json!({})).0, StatusCode::OK);
    assert_eq!(page.post(&format!("/api/queue/{}/cancel", photos[1]), &json!({})).0, StatusCode::NOT_FOUND);
    let place = tempfile::tempdir().unwrap();
    std::fs::rename(page.place.path().join("record"), place.path().join("record")).unwrap();
    drop(page);

    let page = Page::with(place, 2);
    page.wait_for_reading(&photos[0]);
    page.wait_for_reading(&photos[2]);
    let jobs = page.get("/api/queue").1;
    let states: Vec<&str> =
        jobs["queue"].as_array().unwrap().iter().map(|job| job["state"].as_str().unwrap()).collect();
    assert_eq!(states[1], "cancelled", "{jobs}");
    assert!(page.get(&format!("/api/photos/{}/reading", photos[1])).1["reading"].is_null());
}

#[test]
fn a_learner_is_asked_marked_and_kept_over_a_restart() {
    let page = Page::new();
    let next = |page: &Page, learner: &str| page.get(&format!("/api/learn/next?learner={learner}&level=1"));
    let (status, item) = next(&page, "Nova");
    assert_eq!((status, item["item"].as_str()), (StatusCode::OK, Some("p1-1")), "{item}");
    assert!(!item.to_string().contains("truth") && !item.to_string().contains("infected"), "nothing is given away");
    let (status, photo, _) =
        page.send(page.request(Method::GET, "/api/learn/items/p1-1/photo").body(Body::empty()).unwrap());
    assert!(status == StatusCode::OK && photo.starts_with(&[0xff, 0xd8]));
    let answers = |look: &str| -> Vec<Value> {
        let shafts = item["shafts"].as_array().unwrap();
        shafts.iter().map(|s| json!({ "shaft": s["number"], "look": look, "place": "none", "base": null })).collect()
    };
    let post = |body: Value| page.post("/api/learn/items/p1-1/answers", &body);
    for (body, said) in [
        (json!({ "learner": "Nova", "answers": [] }), "each shaft must be answered once"),
        (json!({ "learner": " ", "answers": answers("normal") }), "a nickname will do"),
        (json!({ "learner": "Nova", "answers": answers("sick") }), "these answers cannot be marked"),
        (json!([1]), "these answers cannot be marked"),
    ] {
        let (status, refused) = post(body);
        assert!(status == StatusCode::UNPROCESSABLE_ENTITY && sentence(&refused).contains(said), "{refused}");
    }
    assert_eq!(page.get("/api/learn/standing").1["learners"], json!([]), "nothing of that was kept");

    let (status, told) = post(json!({ "learner": "Nova", "answers": answers("undetermined") }));
    assert!(status == StatusCode::OK && told["missed"] == true && told["back"] == false, "{told}");
    assert!(told["shafts"][0]["truth"]["look"].is_string() && told["shafts"][0]["width_um"].is_number());
    assert_eq!(next(&page, "Nova").1["item"], "p1-2");
    assert_eq!(next(&page, "Iris").1["item"], "p1-1", "another learner begins at the beginning");
    for (path, status) in [
        ("/api/learn/next?learner=Nova&level=9", StatusCode::UNPROCESSABLE_ENTITY),
        ("/api/learn/items/p9-1/photo", StatusCode::NOT_FOUND),
        ("/api/learn/results?learner=Nobody", StatusCode::NOT_FOUND),
        ("/atlas/none.html", StatusCode::NOT_FOUND),
    ] {
        assert_eq!(page.get(path).0, status, "{path}");
    }

    let mut page = page;
    let place = std::mem::replace(&mut page.place, tempfile::tempdir().unwrap());
    drop(page);
    let again = Page::with(place, 1);
    let standing = again.get("/api/learn/standing").1;
    assert_eq!(standing["learners"][0]["learner"], "Nova");
    assert_eq!(standing["learners"][0]["standing"]["photos"], 1, "{standing}");
    let (_, results) = again.get("/api/learn/results?learner=Nova");
    assert_eq!(results["schema"], "pilumen/learning/1");
    let (status, html, _) = again.send(again.request(Method::GET, "/atlas/index.html").body(Body::empty()).unwrap());
    assert!(status == StatusCode::OK && String::from_utf8(html).unwrap().contains("href=\"/learn\""), "a way back");
}
