//! The pages about boat models.

use axum::body::Body;
use axum::http::{Method, StatusCode, header};

use crate::bench::{Bench, model_file, request};

#[tokio::test]
async fn an_empty_store_says_what_to_do_first() {
    let bench = Bench::new().await;
    let page = bench.get("/").await.text;
    assert!(page.contains("no boat model yet") && page.contains("href=\"/models/import\""));
}

#[tokio::test]
async fn a_model_is_imported_replaced_downloaded_and_deleted() {
    let bench = Bench::new().await;
    let file = "{\"format_version\": 1,  \"name\": \"Launch 92\"}\n";
    let made = bench
        .form("/models/import", file, &[("id", ""), ("who", "A. Rigger")])
        .await;
    assert_eq!(
        (made.status, made.header("location")),
        (StatusCode::SEE_OTHER, "/models/launch-92")
    );
    let list = bench.get("/models").await.text;
    assert!(
        list.contains("Launch 92") && list.contains("A. Rigger"),
        "{list}"
    );

    let saved = bench.get("/models/launch-92/file.json").await;
    assert_eq!(saved.text, file);
    assert!(
        saved
            .header("content-disposition")
            .contains("launch-92-revision-1.json")
    );

    let next = &model_file("Launch 92 B").to_string();
    let address = "/models/launch-92/replace";
    let replaced = bench
        .form(address, next, &[("expected_revision", "1")])
        .await;
    assert_eq!(replaced.status, StatusCode::SEE_OTHER);
    for stale in ["1", "", "x"] {
        let late = bench
            .form(address, next, &[("expected_revision", stale)])
            .await;
        assert_eq!(late.status, StatusCode::CONFLICT);
        assert!(
            late.text.contains("Changed by somebody else"),
            "{}",
            late.text
        );
    }
    assert_eq!(
        bench
            .get("/models/launch-92/revisions/1/file.json")
            .await
            .text,
        file
    );

    assert!(
        bench
            .get("/models/launch-92/delete")
            .await
            .text
            .contains("All its 2 revisions")
    );
    let unasked = request(Method::POST, "/models/launch-92/delete")
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .body(Body::from("x=2"))
        .unwrap();
    assert_eq!(
        bench.send(unasked).await.status,
        StatusCode::UNPROCESSABLE_ENTITY
    );
    let delete = request(Method::POST, "/models/launch-92/delete")
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .body(Body::from("expected_revision=2"))
        .unwrap();
    assert_eq!(bench.send(delete).await.header("location"), "/models");
    assert_eq!(
        bench.get("/models/launch-92/revisions").await.status,
        StatusCode::NOT_FOUND
    );
}

#[tokio::test]
async fn a_form_not_accepted_comes_back_as_sent() {
    let bench = Bench::new().await;
    let texts = [
        ("id", "No Good"),
        ("who", "A. \"B\" Rigger"),
        ("reason", "<i>"),
    ];
    let page = bench.form("/models/import", "{\"name\": 3}", &texts).await;
    assert_eq!(page.status, StatusCode::UNPROCESSABLE_ENTITY);
    let text = &page.text;
    assert!(text.contains("<title>Error: "), "{text}");
    for field in ["file", "id"] {
        assert!(
            text.contains(&format!("<a href=\"#{field}\">")),
            "{field}: {text}"
        );
        assert!(
            text.contains(&format!("id=\"{field}-fault\"")),
            "{field}: {text}"
        );
    }
    assert!(text.contains("value=\"No Good\"") && text.contains("value=\"A. &#34;B&#34; Rigger\""));
    assert!(!text.contains("<i>"));
    assert!(text.find("There is a problem") < text.find("<h1>"));
    let empty = bench.form("/models/import", "", &[]).await;
    assert!(
        empty.text.contains("choose the model file"),
        "{}",
        empty.text
    );
}

#[tokio::test]
async fn an_id_in_use_is_told_at_its_field() {
    let bench = Bench::new().await;
    bench.store_model("launch", "Launch").await;
    let page = bench
        .form("/models/import", &model_file("Launch").to_string(), &[])
        .await;
    assert_eq!(page.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.text.contains("id=\"id-fault\"") && page.text.contains("given: launch"));
}

#[tokio::test]
async fn a_hostile_name_is_only_text() {
    let bench = Bench::new().await;
    let hostile = "<script>alert(1)</script>\"'><img src=x onerror=alert(1)>";
    bench.store_model("launch", hostile).await;
    for tail in ["", "/launch/revisions", "/launch/replace", "/launch/delete"] {
        let page = bench.get(&format!("/models{tail}")).await.text;
        assert!(page.contains("&#60;script&#62;alert(1)"), "{page}");
        assert!(
            !page.contains("<script>alert") && !page.contains("<img src=x"),
            "{page}"
        );
    }
    let found = bench.get("/search?q=%3Cscript%3E%22").await.text;
    assert!(found.contains("value=\"&#60;script&#62;&#34;\""), "{found}");
}

#[tokio::test]
async fn search_finds_models_by_any_words() {
    let bench = Bench::new().await;
    bench.store_model("launch-92", "Pilothouse Launch").await;
    for (asked, found) in [
        ("LAUNCH%20pilot", true),
        ("launch-9", true),
        ("tender", false),
        ("", false),
    ] {
        let page = bench.get(&format!("/search?q={asked}")).await.text;
        assert_eq!(
            page.contains("href=\"/models/launch-92\""),
            found,
            "{asked}"
        );
    }
}

#[tokio::test]
async fn failures_are_pages_that_lead_on() {
    let bench = Bench::new().await;
    let page = bench.get("/models/nowhere/revisions").await;
    assert_eq!(page.status, StatusCode::NOT_FOUND);
    assert!(
        page.text.contains("There is no boat model “nowhere”."),
        "{}",
        page.text
    );
    assert!(page.text.contains("href=\"/models\""));
    let reply = bench
        .json(Method::PUT, "/models", &serde_json::json!({}))
        .await;
    assert_eq!(reply.status, StatusCode::METHOD_NOT_ALLOWED);
    assert!(reply.header("content-type").starts_with("text/html"));
}
