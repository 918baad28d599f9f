//! Answers that take long are worked out to the end, though nobody waits that long.
//!
//! The study of a very large boat model takes minutes. Its first reader is told after
//! [`PATIENCE`] that it is still being worked out, by a page that asks again by itself; meanwhile
//! the work goes on, and whoever asks next for the same finds it done or waits for it too. Without
//! this, the work would be given up with the connection and begun anew by each reload.
//!
//! What was begun before a change of the store is not given to who asks after it.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use axum::body::{Body, Bytes, to_bytes};
use axum::extract::{Request, State};
use axum::http::response::Parts;
use axum::http::{HeaderName, HeaderValue, Method, Uri, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use tokio::sync::watch;
use tokio::time::{Instant, timeout, timeout_at};

use crate::error::Error;
use crate::router::AppState;

/// Longest that a reader waits before being told.
pub const PATIENCE: Duration = Duration::from_secs(15);
/// After so long, what is asked for counts as taking long.
const LONG: Duration = Duration::from_secs(1);
/// Most answers worked out or waiting to be fetched; beyond it they end with their connection.
const MOST: usize = 16;

/// What an answer depends on beside the store: who asks, and whether he holds the page already.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Asked {
    address: Uri,
    headers: [Vec<HeaderValue>; 3],
    /// Count of changes of the store.
    changes: u64,
}

impl Asked {
    fn of(request: &Request, changes: u64) -> Self {
        let all = |name: HeaderName| request.headers().get_all(name).iter().cloned().collect();
        Self {
            address: request.uri().clone(),
            headers: [header::COOKIE, header::AUTHORIZATION, header::IF_NONE_MATCH].map(all),
            changes,
        }
    }
}

/// An answer on its way, for all who wait for it.
#[derive(Clone, Debug)]
struct OnItsWay(watch::Receiver<Option<Answer>>);

/// An answer that can be given to several.
#[derive(Clone, Debug)]
struct Answer {
    head: Parts,
    content: Bytes,
}

impl OnItsWay {
    fn begin(work: impl Future<Output = Response> + Send + 'static) -> Self {
        let (done, on_its_way) = watch::channel(None);
        tokio::spawn(async move {
            let worked = tokio::spawn(work).await;
            let worked =
                worked.unwrap_or_else(|broken| Error::Panicked(broken.to_string()).into_response());
            let (head, body) = worked.into_parts();
            let answer = match to_bytes(body, usize::MAX).await {
                Ok(content) => Answer { head, content },
                Err(fault) => {
                    let (head, _) = Error::Answer(fault.into()).into_response().into_parts();
                    let content = Bytes::new();
                    Answer { head, content }
                }
            };
            // Nobody may be waiting.
            let _ = done.send(Some(answer));
        });
        Self(on_its_way)
    }

    fn is_done(&self) -> bool {
        self.0.borrow().is_some()
    }

    /// The answer, when it is there in time.
    async fn fetch(mut self, until: Instant) -> Option<Response> {
        let there = timeout_at(until, self.0.wait_for(Option::is_some)).await;
        let Answer { head, content } = there.ok()?.ok()?.clone()?;
        Some(Response::from_parts(head, Body::from(content)))
    }
}

/// The answers on their way; all clones share them.
#[derive(Clone, Debug)]
pub struct Unfinished {
    all: Arc<Mutex<Vec<(Asked, OnItsWay)>>>,
    patience: Duration,
    long: Duration,
}

impl Default for Unfinished {
    fn default() -> Self {
        Self {
            all: Arc::default(),
            patience: PATIENCE,
            long: LONG,
        }
    }
}

impl Unfinished {
    fn all(&self) -> std::sync::MutexGuard<'_, Vec<(Asked, OnItsWay)>> {
        self.all.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn find(&self, asked: &Asked) -> Option<OnItsWay> {
        let all = self.all();
        let found = all.iter().find(|(known, _)| known == asked);
        found.map(|(_, on_its_way)| on_its_way.clone())
    }

    fn forget(&self, asked: &Asked) {
        self.all().retain(|(known, _)| known != asked);
    }

    /// Lets the work go on by itself, unless somebody's same work does already; gives it back when
    /// there is too much of it.
    fn begin<W>(&self, asked: &Asked, work: W) -> Result<OnItsWay, W>
    where
        W: Future<Output = Response> + Send + 'static,
    {
        let mut all = self.all();
        if let Some((_, same)) = all.iter().find(|(known, _)| known == asked) {
            return Ok(same.clone());
        }
        all.retain(|(known, one)| known.changes == asked.changes || !one.is_done());
        if all.len() >= MOST {
            let forgotten = all.iter().position(|(_, one)| one.is_done());
            match forgotten {
                Some(at) => drop(all.remove(at)),
                None => return Err(work),
            }
        }
        let begun = OnItsWay::begin(work);
        all.push((asked.clone(), begun.clone()));
        Ok(begun)
    }
}

/// Answers in time, or says that the answer is still being worked out.
pub async fn layer(State(state): State<AppState>, request: Request, next: Next) -> Response {
    if request.method() != Method::GET {
        return next.run(request).await;
    }
    let unfinished = &state.unfinished;
    let until = Instant::now() + unfinished.patience;
    let asked = Asked::of(&request, state.store.changes());
    let on_its_way = match unfinished.find(&asked) {
        Some(same) => same,
        None => {
            let mut work = Box::pin(next.run(request));
            if let Ok(answer) = timeout(unfinished.long, &mut work).await {
                return answer;
            }
            match unfinished.begin(&asked, work) {
                Ok(begun) => begun,
                Err(work) => return work.await,
            }
        }
    };
    match on_its_way.fetch(until).await {
        Some(answer) => {
            unfinished.forget(&asked);
            answer
        }
        None => Error::Unfinished.into_response(),
    }
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicUsize, Ordering};

    use axum::Router;
    use axum::http::StatusCode;
    use axum::middleware::{from_fn, from_fn_with_state};
    use axum::routing::get;
    use tokio::sync::Semaphore;
    use tower::ServiceExt;

    use super::*;
    use crate::error;
    use crate::store::Store;

    /// A page that is made when a permit is given, and how often it was begun.
    struct Bench {
        app: Router,
        permits: Arc<Semaphore>,
        begun: Arc<AtomicUsize>,
        folder: std::path::PathBuf,
    }

    impl Bench {
        async fn new(name: &str) -> Self {
            Self::patient(name, Duration::from_millis(20)).await
        }

        async fn patient(name: &str, patience: Duration) -> Self {
            let folder = format!("harness-unfinished-{name}-{}", std::process::id());
            let folder = std::env::temp_dir().join(folder);
            let mut state = AppState::new(Store::open(&folder).await.unwrap());
            state.unfinished.long = Duration::from_millis(1);
            state.unfinished.patience = patience;
            let permits = Arc::new(Semaphore::new(0));
            let begun = Arc::new(AtomicUsize::new(0));
            let (given, counted) = (permits.clone(), begun.clone());
            let slow = get(async move |address: Uri| {
                counted.fetch_add(1, Ordering::SeqCst);
                given.acquire().await.unwrap().forget();
                assert!(address.path() != "/broken", "broken");
                "done"
            });
            let app = Router::new()
                .route("/{page}", slow.clone())
                .route("/api/{page}", slow)
                .layer(from_fn_with_state(state, layer))
                .layer(from_fn(error::dress));
            Self {
                app,
                permits,
                begun,
                folder,
            }
        }

        async fn ask(&self, address: &str, cookie: &str) -> Response {
            let request = Request::get(address).header(header::COOKIE, cookie);
            let request = request.body(Body::empty()).unwrap();
            self.app.clone().oneshot(request).await.unwrap()
        }

        /// Asks until it is answered, as the page does by itself.
        async fn asked_again(&self, address: &str) -> Response {
            loop {
                let answer = self.ask(address, "").await;
                if answer.status() != StatusCode::SERVICE_UNAVAILABLE {
                    return answer;
                }
            }
        }
    }

    impl Drop for Bench {
        fn drop(&mut self) {
            let _ = std::fs::remove_dir_all(&self.folder);
        }
    }

    async fn text(answer: Response) -> String {
        let bytes = to_bytes(answer.into_body(), usize::MAX).await.unwrap();
        String::from_utf8(bytes.to_vec()).unwrap()
    }

    #[tokio::test]
    async fn a_reader_is_told_and_finds_it_done_later() {
        let bench = Bench::new("told").await;
        for address in ["/page", "/api/page"] {
            let told = bench.ask(address, "").await;
            assert_eq!(told.status(), StatusCode::SERVICE_UNAVAILABLE);
            assert_eq!(told.headers()[header::CACHE_CONTROL], "no-store");
            assert!(told.headers().contains_key(header::RETRY_AFTER));
            // Only a browser asks again by itself.
            let refreshes = told.headers().contains_key(header::REFRESH);
            assert_eq!(refreshes, address == "/page");
            assert!(text(told).await.contains("still being worked out"));
        }
        assert_eq!(bench.begun.load(Ordering::SeqCst), 2);
        bench.permits.add_permits(2);
        for address in ["/page", "/api/page"] {
            assert_eq!(text(bench.asked_again(address).await).await, "done");
        }
        assert_eq!(bench.begun.load(Ordering::SeqCst), 2, "begun once each");
        // It was fetched: who asks now gets one of his own.
        assert_eq!(
            bench.ask("/page", "").await.status(),
            StatusCode::SERVICE_UNAVAILABLE
        );
        assert_eq!(bench.begun.load(Ordering::SeqCst), 3);
    }

    #[tokio::test]
    async fn all_who_wait_get_it() {
        let bench = Bench::patient("all", Duration::from_secs(60)).await;
        let let_one_go = async {
            tokio::time::sleep(Duration::from_millis(50)).await;
            bench.permits.add_permits(1);
        };
        let (one, other, ()) =
            tokio::join!(bench.ask("/page", ""), bench.ask("/page", ""), let_one_go);
        assert_eq!(text(one).await, "done");
        assert_eq!(text(other).await, "done");
    }

    #[tokio::test]
    async fn nobody_gets_the_page_of_another_reader() {
        let bench = Bench::new("own").await;
        for who in ["who=Ada", "who=Bea"] {
            let told = bench.ask("/page", who).await;
            assert_eq!(told.status(), StatusCode::SERVICE_UNAVAILABLE);
        }
        assert_eq!(bench.begun.load(Ordering::SeqCst), 2);
    }

    #[tokio::test]
    async fn what_breaks_is_told_as_broken() {
        let bench = Bench::new("broken").await;
        assert_eq!(
            bench.ask("/broken", "").await.status(),
            StatusCode::SERVICE_UNAVAILABLE
        );
        bench.permits.add_permits(1);
        let answer = bench.asked_again("/broken").await;
        assert_eq!(answer.status(), StatusCode::INTERNAL_SERVER_ERROR);
        assert!(!text(answer).await.contains("panicked"));
    }

    #[tokio::test]
    async fn too_much_of_it_is_not_begun() {
        let bench = Bench::new("much").await;
        for number in 0..MOST {
            bench.ask(&format!("/{number}"), "").await;
        }
        let one_more = timeout(Duration::from_millis(100), bench.ask("/more", ""));
        assert!(one_more.await.is_err(), "it ends with its connection");
        bench.permits.add_permits(MOST);
        assert_eq!(text(bench.asked_again("/0").await).await, "done");
    }
}
