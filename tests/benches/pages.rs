//! How fast pages are served, beside a bare handler, paired in one run.
//!
//! `cargo bench -p tests --bench pages`. Server and clients share this process and its cores; 16
//! connections, each asking again as soon as it is answered. Five pairs of bare handler and page,
//! median of the ratios.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a bench prints and may stop"
)]

use axum::Router;
use axum::routing::get;
use server::router::{AppState, app};
use server::samples;
use server::store::Store;
use std::net::SocketAddr;
use std::time::{Duration, Instant};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

const CONNECTIONS: usize = 16;
const PAIRS: usize = 5;
const ROUND: Duration = Duration::from_millis(1500);

/// The page of failing circuits, a sheet of about a hundred rows, and the list of models.
const PAGES: [&str; 3] = [
    "/models/launch-92/failing",
    "/models/launch-92/sheets/circuit-list",
    "/models",
];

/// What one round of one address gave.
struct Round {
    per_second: f64,
    p99_ms: f64,
    bytes: usize,
}

async fn serve(router: Router) -> SocketAddr {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    tokio::spawn(async move { axum::serve(listener, router).await });
    address
}

/// One connection: asks until the time is up and notes how long each answer took.
async fn ask(to: SocketAddr, request: String, until: Instant) -> (Vec<f64>, usize) {
    let mut stream = TcpStream::connect(to).await.unwrap();
    stream.set_nodelay(true).unwrap();
    let mut times = Vec::new();
    let mut buffer = vec![0; 1 << 16];
    let mut size = 0;
    while Instant::now() < until {
        let start = Instant::now();
        stream.write_all(request.as_bytes()).await.unwrap();
        size = answer(&mut stream, &mut buffer).await;
        times.push(start.elapsed().as_secs_f64() * 1000.0);
    }
    (times, size)
}

/// Reads one answer with a content length and gives its size; it has to be 200 or 304.
async fn answer(stream: &mut TcpStream, buffer: &mut Vec<u8>) -> usize {
    let mut filled = 0;
    loop {
        if filled == buffer.len() {
            buffer.resize(filled * 2, 0);
        }
        let read = stream.read(&mut buffer[filled..]).await.unwrap();
        assert!(read > 0, "the service closed the connection");
        filled += read;
        let Some(head) = buffer[..filled]
            .windows(4)
            .position(|four| four == b"\r\n\r\n")
        else {
            continue;
        };
        let text = std::str::from_utf8(&buffer[..head])
            .unwrap()
            .to_ascii_lowercase();
        let status = &text[9..12];
        assert!(status == "200" || status == "304", "{text}");
        let length: usize = text
            .lines()
            .find_map(|line| line.strip_prefix("content-length: "))
            .map_or(0, |length| length.parse().unwrap());
        if filled >= head + 4 + length || status == "304" {
            return head + 4 + length;
        }
    }
}

async fn round(to: SocketAddr, request: &str) -> Round {
    let start = Instant::now();
    let until = start + ROUND;
    let asking: Vec<_> = (0..CONNECTIONS)
        .map(|_| tokio::spawn(ask(to, request.to_owned(), until)))
        .collect();
    let mut times = Vec::new();
    let mut bytes = 0;
    for one in asking {
        let (found, size) = one.await.unwrap();
        times.extend(found);
        bytes = size;
    }
    let seconds = start.elapsed().as_secs_f64();
    times.sort_by(f64::total_cmp);
    let p99_ms = times[(times.len() * 99 / 100).min(times.len() - 1)];
    Round {
        per_second: times.len() as f64 / seconds,
        p99_ms,
        bytes,
    }
}

fn request(path: &str, to: SocketAddr, tag: Option<&str>) -> String {
    let tag = tag.map_or(String::new(), |tag| format!("If-None-Match: {tag}\r\n"));
    format!("GET {path} HTTP/1.1\r\nHost: {to}\r\n{tag}\r\n")
}

/// The entity tag of a page.
async fn tag(to: SocketAddr, path: &str) -> String {
    let mut stream = TcpStream::connect(to).await.unwrap();
    let asked = format!("GET {path} HTTP/1.1\r\nHost: {to}\r\nConnection: close\r\n\r\n");
    stream.write_all(asked.as_bytes()).await.unwrap();
    let mut text = Vec::new();
    stream.read_to_end(&mut text).await.unwrap();
    let head = String::from_utf8_lossy(&text);
    let line = head
        .lines()
        .find(|line| line.to_ascii_lowercase().starts_with("etag: "))
        .unwrap();
    line[6..].trim().to_owned()
}

async fn pairs(name: &str, bare: SocketAddr, to: SocketAddr, asked: &str) {
    let simple = request("/", bare, None);
    let mut ratios = Vec::new();
    let mut rounds = Vec::new();
    for _ in 0..PAIRS {
        let plain = round(bare, &simple).await;
        let page = round(to, asked).await;
        ratios.push(page.per_second / plain.per_second);
        rounds.push((plain.per_second, page));
    }
    ratios.sort_by(f64::total_cmp);
    rounds.sort_by(|a, b| a.1.per_second.total_cmp(&b.1.per_second));
    let (plain, middle) = &rounds[PAIRS / 2];
    println!(
        "{name:52} {:7.0}/s beside {plain:7.0}/s bare: ratio {:.3} ({:.3} to {:.3}), p99 {:.2} ms, \
         {} bytes",
        middle.per_second,
        ratios[PAIRS / 2],
        ratios[0],
        ratios[PAIRS - 1],
        middle.p99_ms,
        middle.bytes,
    );
}

#[tokio::main]
async fn main() {
    let folder = std::env::temp_dir().join(format!("harness-bench-{}", std::process::id()));
    let store = Store::open(&folder).await.unwrap();
    samples::load_when_new(&store).await.unwrap();
    let service = serve(app(AppState::new(store))).await;
    let bare = serve(Router::new().route("/", get(async || "Hello"))).await;
    for path in PAGES {
        // The first visit makes the study; it is no part of the figure.
        let tag = tag(service, path).await;
        pairs(path, bare, service, &request(path, service, None)).await;
        let unchanged = request(path, service, Some(&tag));
        pairs(
            &format!("{path}, unchanged (304)"),
            bare,
            service,
            &unchanged,
        )
        .await;
    }
    let _ = std::fs::remove_dir_all(folder);
}
