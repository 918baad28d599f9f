//! The service on a free port of this machine, with a store of its own.

use std::path::PathBuf;
use std::sync::atomic::{AtomicU32, Ordering};

use axum::body::Body;
use axum::http::Request;
use axum::http::header::CONTENT_TYPE;
use server::router::{AppState, app};
use server::samples::load_when_new;
use server::store::Store;
use tokio::net::TcpListener;
use tokio::task::JoinHandle;
use tower::ServiceExt;

/// A running service; it stops with its value.
pub struct Service {
    pub store: Store,
    address: String,
    folder: PathBuf,
    serving: JoinHandle<()>,
}

impl Service {
    /// A service without any boat model.
    pub async fn empty() -> Self {
        static NEXT: AtomicU32 = AtomicU32::new(0);
        let number = NEXT.fetch_add(1, Ordering::Relaxed);
        let name = format!("harness-browser-{}-{number}", std::process::id());
        let folder = std::env::temp_dir().join(name);
        let store = Store::open(&folder).await.unwrap();
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = format!("http://{}", listener.local_addr().unwrap());
        let service = app(AppState::new(store.clone()));
        let serving = tokio::spawn(async { axum::serve(listener, service).await.unwrap() });
        Self {
            store,
            address,
            folder,
            serving,
        }
    }

    /// A service as a new user finds it: with the demo models.
    pub async fn new() -> Self {
        let service = Self::empty().await;
        load_when_new(&service.store).await.unwrap();
        service
    }

    /// Status code and kind of what is read at an address.
    pub async fn read(&self, path: &str) -> (u16, String) {
        let request = Request::get(path).body(Body::empty()).unwrap();
        let service = app(AppState::new(self.store.clone()));
        let answer = service.oneshot(request).await.unwrap();
        let kind = answer.headers().get(CONTENT_TYPE);
        let kind = kind.map_or("", |kind| kind.to_str().unwrap()).to_owned();
        (answer.status().as_u16(), kind)
    }

    pub fn at(&self, path: &str) -> String {
        format!("{}{path}", self.address)
    }
}

impl Drop for Service {
    fn drop(&mut self) {
        self.serving.abort();
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}
