//! Headers, limits, other sites, other hosts, unchanged answers.

use axum::body::Body;
use axum::http::{Method, StatusCode, header};
use serde_json::json;
use server::guard::HEADERS;
use server::router::{BODY_LIMIT, routes};

use crate::bench::{Bench, request};

#[tokio::test]
async fn every_answer_carries_the_strict_headers() {
    let bench = Bench::new().await;
    bench.store_file("launch", crate::bench::LAUNCH).await;
    let parts = json!({"format_version": 1, "loads": [{"id": "pump", "current_a": 3.0}]});
    let parts = json!({"parts": parts, "expected_revision": 0});
    bench.json(Method::PUT, "/api/parts", &parts).await;
    let known = routes().into_iter().map(|(address, _)| {
        address
            .replace("{id}", "launch")
            .replace(
                "/clears",
                "/clears?hull=11&rule=coupler_unreachable&at=coupler%20cockpit-coupler-starboard",
            )
            .replace("{zone}", "helm")
            .replace("{run}", "starboard-leg")
            .replace("{option}", "radar")
            .replace("{code}", "drop_over_limit")
            .replace(
                "/api/models/launch/sheets/{sheet}",
                "/api/models/launch/sheets/cut-list.json",
            )
            .replace("{sheet}", "cut-list")
            .replace("{number}", "1")
            .replace("/edit/{list}/thing", "/edit/wires/thing")
            .replace("/edit/{list}/remove", "/edit/options/remove?id=radar")
            .replace("/parts/{list}/remove", "/parts/loads/remove?id=pump")
            .replace("/parts/{list}", "/parts/loads")
            .replace("/parts/spreadsheet/{file}", "/parts/spreadsheet/parts.xlsx")
            .replace("{list}", "wires")
            .replace("{file}", "model.xlsx")
            .replace("{name}", "screen.css")
    });
    for address in known.chain(["/nothing".to_owned(), "/api/nothing".to_owned()]) {
        let reply = bench.get(&address).await;
        let asked_by_post = [
            "/api/calculations/",
            "/api/check",
            "/bring-back",
            "/take-back",
            "/accept",
            "/marked",
        ];
        if asked_by_post.iter().any(|part| address.contains(part)) {
            assert_eq!(reply.status, StatusCode::METHOD_NOT_ALLOWED, "{address}");
        } else {
            assert_eq!(
                reply.status.is_success(),
                !address.contains("nothing"),
                "{address}"
            );
        }
        for (name, value) in HEADERS {
            assert_eq!(reply.header(name), *value, "{address}");
        }
        assert!(!reply.header("cache-control").is_empty(), "{address}");
    }
}

#[tokio::test]
async fn pages_hold_nothing_that_the_policy_forbids() {
    let bench = Bench::new().await;
    bench.store_model("launch", "Launch").await;
    for address in [
        "/",
        "/models/import",
        "/models/launch/revisions",
        "/models/launch/delete",
        "/x",
    ] {
        let page = bench.get(address).await.text;
        for forbidden in [
            "<style",
            " style=",
            " onclick=",
            "javascript:",
            "src=\"http",
            "href=\"http",
        ] {
            assert!(!page.contains(forbidden), "{address}: {forbidden}");
        }
        assert!(page.contains("class=\"caution\""), "{address}");
    }
}

#[tokio::test]
async fn both_sides_of_the_body_limit() {
    let bench = Bench::new().await;
    for (length, status) in [(BODY_LIMIT, 400), (BODY_LIMIT + 1, 413)] {
        let json = request(Method::POST, "/api/models")
            .header(header::CONTENT_TYPE, "application/json")
            .body(Body::from(vec![b' '; length]))
            .unwrap();
        bench.send(json).await.problem(status);
    }
    // A length stated in advance is refused before anything is read.
    let stated = request(Method::POST, "/api/models")
        .header(header::CONTENT_TYPE, "application/json")
        .header(header::CONTENT_LENGTH, BODY_LIMIT + 1)
        .body(Body::empty())
        .unwrap();
    bench.send(stated).await.problem(413);
    let page = bench
        .form("/models/import", &" ".repeat(BODY_LIMIT), &[])
        .await;
    assert_eq!(page.status, StatusCode::PAYLOAD_TOO_LARGE);
    assert!(page.header("content-type").starts_with("text/html"));
    let limit = format!("{} MiB", BODY_LIMIT / (1024 * 1024));
    assert!(page.text.contains(&limit), "{}", page.text);
    assert!(bench.get("/models/import").await.text.contains(&limit));
}

#[tokio::test]
async fn a_change_sent_by_another_site_is_refused() {
    let bench = Bench::new().await;
    bench.store_model("launch", "Launch").await;
    let delete = |headers: &[(&str, &str)]| {
        let mut request = request(Method::POST, "/models/launch/delete")
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        bench.send(request.body(Body::from("expected_revision=1")).unwrap())
    };
    for other in [
        &[("sec-fetch-site", "cross-site")][..],
        &[("sec-fetch-site", "same-site")],
        &[("origin", "http://example.org")],
        &[("origin", "null")],
        &[("origin", "http://127.0.0.1:9090")],
    ] {
        let reply = delete(other).await;
        assert_eq!(reply.status, StatusCode::FORBIDDEN, "{other:?}");
        assert!(reply.text.contains("another site"), "{}", reply.text);
    }
    assert_eq!(bench.store.count().await.unwrap(), 1);
    assert_eq!(
        delete(&[("origin", "http://127.0.0.1:8080")]).await.status,
        StatusCode::SEE_OTHER
    );
    assert_eq!(bench.store.count().await.unwrap(), 0);
}

#[tokio::test]
async fn another_host_is_refused() {
    let bench = Bench::new().await;
    let ask = |host: &'static str| {
        let request = axum::http::Request::builder()
            .uri("/")
            .header(header::HOST, host);
        bench.send(request.body(Body::empty()).unwrap())
    };
    assert_eq!(
        ask("boats.example.org").await.status,
        StatusCode::MISDIRECTED_REQUEST
    );
    assert_eq!(ask("localhost:8080").await.status, StatusCode::OK);
}

#[tokio::test]
async fn an_answer_unchanged_since_the_last_visit_is_not_sent_again() {
    let bench = Bench::new().await;
    bench.store_model("launch", "Launch").await;
    let style = server::assets::href("screen.css");
    for address in [
        "/",
        "/api/models",
        "/models/launch/revisions",
        style.as_str(),
    ] {
        let first = bench.get(address).await;
        let tag = first.header("etag").to_owned();
        assert!(
            tag.starts_with('"') && tag.ends_with('"'),
            "{address}: {tag}"
        );
        let again = request(Method::GET, address)
            .header(header::IF_NONE_MATCH, format!("\"other\", W/{tag}"));
        let again = bench.send(again.body(Body::empty()).unwrap()).await;
        assert_eq!(again.status, StatusCode::NOT_MODIFIED, "{address}");
        assert_eq!(
            (again.header("etag"), again.text.as_str()),
            (tag.as_str(), "")
        );
        assert_eq!(again.header("cache-control"), first.header("cache-control"));
    }
    let before = bench.get("/").await.header("etag").to_owned();
    bench.store_model("tender", "Tender").await;
    assert_ne!(bench.get("/").await.header("etag"), before);
}

#[tokio::test]
async fn only_the_address_with_the_right_version_is_kept_for_good() {
    let bench = Bench::new().await;
    let right = bench.get(&server::assets::href("screen.css")).await;
    assert!(right.header("cache-control").contains("immutable"));
    assert_eq!(right.header("content-type"), "text/css; charset=utf-8");
    for other in ["/static/screen.css", "/static/screen.css?v=0"] {
        assert_eq!(bench.get(other).await.header("cache-control"), "no-cache");
    }
    assert_eq!(
        bench.get("/static/main.rs").await.status,
        StatusCode::NOT_FOUND
    );
}
