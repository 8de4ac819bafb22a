//! Requests to the desk: forms, paths, queries, photos; and the queue that it left on the disk.

use axum::body::Body;
use axum::http::{HeaderName, HeaderValue, Method, StatusCode, Uri};
use pilumen::web::{Asked, Desk, Names};
use serde_json::{Value, json};

use super::readings::MODEL;
use super::{World, must, told};
use crate::web::{HOST, Page};

/// Forms as pages send them: method and path on the first line, then the body. `ANIMAL` and `SLIDE` stand for ids.
fn forms() -> Vec<Vec<u8>> {
    let form = |head: &str, body: Value| format!("{head}\n{body}").into_bytes();
    let site = json!({ "site": "left pinna", "fluorescence": "yes", "colour": "apple green", "hair_loss": "no" });
    let mut forms = vec![
        form("POST /api/cases", json!({ "name": "Oriel", "group": "QH-3", "sex": "female", "coat_length": "short" })),
        form("POST /api/cases/ANIMAL/exams", json!({ "day": "2026-03-01", "lamp_nm": 365, "sites": [site] })),
        form("POST /api/cases/ANIMAL/slides", json!({ "site": "chin", "day": "2026-03-02", "label": "A1" })),
        form("POST /api/cases/ANIMAL/cultures", json!({ "day": "2026-03-02", "site": "chin", "medium": "DTM" })),
        form("POST /api/cases/ANIMAL/treatments", json!({ "kind": "bath", "from": "2026-03-02", "what": "lime" })),
        form("POST /api/cases/ANIMAL/contacts", json!({ "day": "2026-03-02", "with": "Bracken", "how": "room" })),
        form("POST /api/facts/ANIMAL/notes", json!({ "text": "shy", "day": "2026-03-02" })),
        form("POST /api/facts/SLIDE/withdraw", json!({ "why": "twice" })),
        form("POST /api/cultures/SLIDE/plates", json!({ "day": "2026-03-09", "growth": "none" })),
        form(
            "POST /api/readings/SLIDE/corrections",
            json!({ "why": "seen", "changes": [{ "what": "not-a-shaft", "shaft": 1 }] }),
        ),
        form("POST /api/demo/reading", json!({ "why": "seen", "changes": [{ "what": "withdrawn" }] })),
        b"POST /api/slides/SLIDE/photos?file=a.png&light=uv&um_per_px=0.5\nPHOTO".to_vec(),
        b"POST /api/queue/SLIDE/cancel\n".to_vec(),
        b"POST /api/photos/SLIDE/read\n{}".to_vec(),
    ];
    let asked = [
        "/",
        "/enter?key=abc",
        "/files/js/base.js",
        "/files/../../Cargo.toml",
        "/api/start",
        "/api/due?days=30",
        "/api/cases?words=moth&skip=1",
        "/api/cases/ANIMAL",
        "/api/cases/ANIMAL/pack",
        "/api/slides/SLIDE",
        "/api/photos/SLIDE/bytes",
        "/api/photos/SLIDE/small",
        "/api/photos/SLIDE/reading",
        "/api/photos/SLIDE/files/csv",
        "/api/photos/SLIDE/paper/report?paper=a4&language=es",
        "/api/queue",
        "/api/reference",
        "/api/model",
    ];
    forms.extend(asked.iter().map(|path| format!("GET {path}\n").into_bytes()));
    forms
}

/// Whatever a browser may send, by somebody who was let in.
pub(in super::super) fn requests() -> World {
    let page = Page::new();
    let (animal, slide) = page.slide("Pepperpot");
    World::new(forms(), move |input| {
        let end = input.iter().position(|byte| *byte == b'\n').unwrap_or(input.len());
        let head = String::from_utf8_lossy(&input[..end]).replace("ANIMAL", &animal).replace("SLIDE", &slide);
        let body = input.get(end + 1..).unwrap_or_default().to_vec();
        let (method, path) = head.split_once(' ').unwrap_or(("GET", &head));
        let (Ok(method), Ok(uri)) = (Method::from_bytes(method.as_bytes()), path.parse::<Uri>()) else {
            return Ok("no request".to_owned());
        };
        // A stream without end cannot be waited for.
        if uri.path().starts_with("/api/queue/news") || !uri.path().starts_with('/') {
            return Ok("not asked".to_owned());
        }
        let mut request =
            page.request(method, "/").body(Body::from(body.clone())).map_err(|error| error.to_string())?;
        *request.uri_mut() = uri;
        let headers = request.headers_mut();
        headers.insert("content-type", HeaderValue::from_static("application/json"));
        // A part of the body serves as the name of who tells it, where a header can hold it.
        if let Ok(by) = HeaderValue::from_bytes(&body[..body.len().min(12)]) {
            headers.insert(HeaderName::from_static("x-desk-by"), by);
        }
        let (status, answer, _) = page.send(request);
        let sentence = serde_json::from_slice::<Value>(&answer)
            .ok()
            .and_then(|answer| answer["sentence"].as_str().map(str::to_owned));
        must(status != StatusCode::INTERNAL_SERVER_ERROR, sentence.as_deref().unwrap_or("the desk failed"))?;
        Ok(format!("{status} {}", sentence.unwrap_or_default()))
    })
}

/// The queue that a desk finds on its disk.
pub(in super::super) fn queue() -> World {
    let job = json!([{
        "photo": "6f2b9c0e-0000-4000-8000-000000000001", "file": "a.jpg", "slide": "s", "by": "Test",
        "um_per_px": 0.5, "state": "waiting", "sentence": null,
    }]);
    let place = tempfile::tempdir().unwrap();
    World::new(vec![job.to_string().into_bytes(), b"[]".to_vec()], move |bytes| {
        let record = place.path().join("record");
        std::fs::create_dir_all(&record).map_err(|error| error.to_string())?;
        std::fs::write(record.join("desk.queue.json"), bytes).map_err(|error| error.to_string())?;
        let setups = Some(record.join("setups.json"));
        let asked = Asked {
            record,
            setups,
            by: String::new(),
            max_megapixels: None,
            own_model: None,
            max_bytes: 1000,
            n_readers: 0,
        };
        let model = pilumen::finding::model_from_bytes(include_bytes!("../../../models/shaft-v1.json")).unwrap();
        must(model.sha256() == MODEL.sha256(), "the model is the program's own")?;
        let desk = Desk::open(asked, model, Names::new(HOST.parse().unwrap(), Vec::new()));
        Ok(told(&desk))
    })
}
