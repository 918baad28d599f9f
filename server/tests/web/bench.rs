//! A service on a store of its own.

use std::path::PathBuf;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, SystemTime};

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{HeaderMap, Method, Request, StatusCode, header};
use serde_json::{Value, json};
use server::router::{AppState, app};
use server::store::{NewRevision, Store};
use tower::ServiceExt;

/// The large demo model.
pub const LAUNCH: &str = include_str!("../../samples/launch-92.json");

/// A folder of its own, removed in the end.
pub struct Folder(pub PathBuf);

impl Folder {
    pub fn new() -> Self {
        static NEXT: AtomicU32 = AtomicU32::new(0);
        let name = format!(
            "harness-{}-{}",
            std::process::id(),
            NEXT.fetch_add(1, Ordering::Relaxed)
        );
        Self(std::env::temp_dir().join(name))
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// The service on a new store.
pub struct Bench {
    pub store: Store,
    app: Router,
    _folder: Folder,
}

/// What came back.
pub struct Reply {
    pub status: StatusCode,
    pub headers: HeaderMap,
    pub text: String,
}

impl Reply {
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.text).expect(&self.text)
    }

    pub fn header(&self, name: &str) -> &str {
        self.headers
            .get(name)
            .map_or("", |value| value.to_str().unwrap())
    }

    /// Asserts an RFC 9457 document and returns it.
    pub fn problem(&self, status: u16) -> Value {
        assert_eq!(self.status.as_u16(), status, "{}", self.text);
        assert_eq!(self.header("content-type"), "application/problem+json");
        let problem = self.json();
        assert_eq!(problem["status"], status);
        assert!(
            problem["title"].is_string() && problem["detail"].is_string(),
            "{problem}"
        );
        problem
    }
}

impl Bench {
    pub async fn new() -> Self {
        let folder = Folder::new();
        let store = Store::open(&folder.0).await.unwrap();
        Self {
            app: app(AppState::new(store.clone())),
            store,
            _folder: folder,
        }
    }

    pub async fn send(&self, request: Request<Body>) -> Reply {
        let response = self.app.clone().oneshot(request).await.unwrap();
        let (parts, body) = response.into_parts();
        let bytes = to_bytes(body, usize::MAX).await.unwrap();
        // A workbook is no text; whoever wants its bytes asks with `bytes`.
        let text = String::from_utf8_lossy(&bytes).into_owned();
        Reply {
            status: parts.status,
            headers: parts.headers,
            text,
        }
    }

    /// As a browser gets a page: one that is still being worked out is asked for again.
    pub async fn get(&self, address: &str) -> Reply {
        loop {
            let asked = request(Method::GET, address).body(Body::empty()).unwrap();
            let reply = self.send(asked).await;
            if reply.header("retry-after").is_empty() {
                return reply;
            }
        }
    }

    pub async fn json(&self, method: Method, address: &str, body: &Value) -> Reply {
        let request = request(method, address).header(header::CONTENT_TYPE, "application/json");
        self.send(request.body(Body::from(body.to_string())).unwrap())
            .await
    }

    /// A form with a model file, as browsers send it from a page of the service.
    pub async fn form(&self, address: &str, file: &str, texts: &[(&str, &str)]) -> Reply {
        self.form_with("a.json", address, file.as_bytes(), texts)
            .await
    }

    /// A form with a file of any kind and name.
    pub async fn form_with(
        &self,
        name: &str,
        address: &str,
        file: &[u8],
        texts: &[(&str, &str)],
    ) -> Reply {
        self.send(form_request(name, address, file, texts)).await
    }

    /// What comes back as bytes, with its kind: for files that are no text.
    pub async fn bytes(&self, request: Request<Body>) -> (StatusCode, String, Vec<u8>) {
        let response = self.app.clone().oneshot(request).await.unwrap();
        let kind = response.headers().get(header::CONTENT_TYPE);
        let kind = kind.map_or("", |kind| kind.to_str().unwrap()).to_owned();
        let status = response.status();
        let bytes = to_bytes(response.into_body(), usize::MAX).await.unwrap();
        (status, kind, bytes.to_vec())
    }

    pub async fn store_file(&self, id: &str, file: &str) {
        self.store.create(id, revision(id, file)).await.unwrap();
    }

    pub async fn store_model(&self, id: &str, name: &str) {
        let body = model_file(name).to_string();
        self.store.create(id, revision(name, &body)).await.unwrap();
    }
}

/// A request that sends a form with a file.
pub fn form_request(
    name: &str,
    address: &str,
    file: &[u8],
    texts: &[(&str, &str)],
) -> Request<Body> {
    let mut body = format!(
        "--edge\r\nContent-Disposition: form-data; name=\"file\"; filename=\"{name}\"\r\n\
         Content-Type: application/octet-stream\r\n\r\n"
    )
    .into_bytes();
    body.extend_from_slice(file);
    body.extend_from_slice(b"\r\n");
    for (name, value) in texts {
        let part =
            format!("--edge\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n");
        body.extend_from_slice(part.as_bytes());
    }
    body.extend_from_slice(b"--edge--\r\n");
    request(Method::POST, address)
        .header(header::CONTENT_TYPE, "multipart/form-data; boundary=edge")
        .header("sec-fetch-site", "same-origin")
        .body(Body::from(body))
        .unwrap()
}

pub fn request(method: Method, address: &str) -> axum::http::request::Builder {
    Request::builder()
        .method(method)
        .uri(address)
        .header(header::HOST, "127.0.0.1:8080")
}

pub fn revision<'a>(name: &'a str, body: &'a str) -> NewRevision<'a> {
    let at = SystemTime::UNIX_EPOCH + Duration::from_secs(1_767_323_045);
    NewRevision {
        name,
        body,
        stamp: "00ff",
        who: "A. Rigger",
        reason: "first draft",
        at,
        restores: None,
    }
}

/// The smallest model file.
pub fn model_file(name: &str) -> Value {
    json!({ "format_version": 1, "name": name })
}
