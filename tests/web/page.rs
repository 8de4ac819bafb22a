//! A desk without a port for tests, on a record of its own, and requests to it as its pages make them.

use std::time::{Duration, Instant};

use axum::Router;
use axum::body::Body;
use axum::http::{Method, Request, Response, StatusCode, header};
use http_body_util::BodyExt;
use pilumen::finding::model_from_bytes;
use pilumen::web::{Asked, Desk, Names, app};
use serde_json::{Value, json};
use tempfile::TempDir;
use tower::ServiceExt;

pub(crate) const HOST: &str = "127.0.0.1:4807";

/// A desk on a record of its own.
pub(crate) struct Page {
    pub(super) desk: Desk,
    app: Router,
    pub(super) place: TempDir,
    runtime: tokio::runtime::Runtime,
}

impl Page {
    pub(crate) fn new() -> Page {
        Page::with(tempfile::tempdir().unwrap(), 1)
    }

    pub(super) fn with(place: TempDir, n_readers: usize) -> Page {
        let asked = Asked {
            record: place.path().join("record"),
            setups: Some(place.path().join("setups.json")),
            by: String::new(),
            max_megapixels: Some(20.0),
            own_model: None,
            max_bytes: 2_000_000,
            n_readers,
        };
        let model = model_from_bytes(include_bytes!("../../models/shaft-v1.json")).unwrap();
        let desk = Desk::open(asked, model, Names::new(HOST.parse().unwrap(), Vec::new())).unwrap();
        let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().unwrap();
        Page { app: app(&desk), desk, place, runtime }
    }

    pub(super) fn cookie(&self) -> String {
        format!("pilumen_desk={}", self.desk.key())
    }

    /// A request as the desk's own page makes it.
    pub(crate) fn request(&self, method: Method, path: &str) -> axum::http::request::Builder {
        Request::builder()
            .method(method)
            .uri(path)
            .header(header::HOST, HOST)
            .header(header::ORIGIN, format!("http://{HOST}"))
            .header("sec-fetch-site", "same-origin")
            .header(header::COOKIE, self.cookie())
            .header("x-desk-token", self.desk.token())
            .header("x-desk-by", "Test%20%C3%89")
    }

    pub(crate) fn send(&self, request: Request<Body>) -> (StatusCode, Vec<u8>, Response<()>) {
        self.runtime.block_on(async {
            let response = self.app.clone().oneshot(request).await.unwrap();
            let (head, body) = response.into_parts();
            let bytes = body.collect().await.unwrap().to_bytes().to_vec();
            (head.status, bytes, Response::from_parts(head, ()))
        })
    }

    pub(super) fn get(&self, path: &str) -> (StatusCode, Value) {
        let (status, bytes, _) = self.send(self.request(Method::GET, path).body(Body::empty()).unwrap());
        (status, serde_json::from_slice(&bytes).unwrap_or(Value::Null))
    }

    pub(super) fn post(&self, path: &str, body: &Value) -> (StatusCode, Value) {
        let request = self.request(Method::POST, path).header(header::CONTENT_TYPE, "application/json");
        let (status, bytes, _) = self.send(request.body(Body::from(body.to_string())).unwrap());
        (status, serde_json::from_slice(&bytes).unwrap_or(Value::Null))
    }

    pub(super) fn upload(&self, slide: &str, query: &str, bytes: &[u8]) -> (StatusCode, Value) {
        let request = self.request(Method::POST, &format!("/api/slides/{slide}/photos?{query}"));
        let request = request.header(header::CONTENT_TYPE, "application/octet-stream").body(Body::from(bytes.to_vec()));
        let (status, bytes, _) = self.send(request.unwrap());
        (status, serde_json::from_slice(&bytes).unwrap_or(Value::Null))
    }

    /// A case with a slide; the slide's id.
    pub(crate) fn slide(&self, name: &str) -> (String, String) {
        let (status, animal) = self.post("/api/cases", &json!({ "name": name }));
        assert_eq!(status, StatusCode::OK, "{animal}");
        let animal = animal["id"].as_str().unwrap().to_owned();
        let told = json!({ "site": "left pinna", "day": "2026-03-01" });
        let (status, slide) = self.post(&format!("/api/cases/{animal}/slides"), &told);
        assert_eq!(status, StatusCode::OK, "{slide}");
        (animal, slide["id"].as_str().unwrap().to_owned())
    }

    pub(super) fn wait_for_reading(&self, photo: &str) -> Value {
        let began = Instant::now();
        loop {
            let (_, reading) = self.get(&format!("/api/photos/{photo}/reading"));
            if reading["reading"].is_string() {
                return reading;
            }
            assert!(began.elapsed() < Duration::from_secs(300), "{}", self.get("/api/queue").1);
            std::thread::sleep(Duration::from_millis(50));
        }
    }
}

impl Drop for Page {
    fn drop(&mut self) {
        self.desk.close();
    }
}
