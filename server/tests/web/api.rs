//! `/api/models` and `/health`.

use axum::body::Body;
use axum::http::{Method, header};
use serde_json::json;

use crate::bench::{Bench, model_file, request};

#[tokio::test]
async fn a_model_goes_round() {
    let bench = Bench::new().await;
    let model = json!({ "format_version": 1, "name": "Launch 92", "about": "1.10" });
    let sent = json!({ "model": model, "who": "A. Rigger" });
    let made = bench.json(Method::POST, "/api/models", &sent).await;
    assert_eq!(
        (made.status.as_u16(), made.header("location")),
        (201, "/api/models/launch-92")
    );

    let read = bench.get("/api/models/launch-92").await.json();
    assert_eq!((&read["model"], &read["revision"]), (&model, &json!(1)));
    assert_eq!(
        (&read["who"], &read["reason"]),
        (&json!("A. Rigger"), &json!("not stated"))
    );

    let next = json!({ "model": model_file("Launch 93"), "expected_revision": 1 });
    let replaced = bench
        .json(Method::PUT, "/api/models/launch-92", &next)
        .await
        .json();
    assert_eq!(
        (&replaced["revision"], &replaced["name"]),
        (&json!(2), &json!("Launch 93"))
    );
    bench
        .json(Method::PUT, "/api/models/launch-92", &next)
        .await
        .problem(409);

    let revisions = bench.get("/api/models/launch-92/revisions").await.json();
    assert_eq!(revisions["revisions"].as_array().unwrap().len(), 2);
    assert_eq!(
        bench.get("/api/models/launch-92/revisions/1").await.json()["model"],
        model
    );
    assert_eq!(
        bench.get("/api/models").await.json()["models"][0]["id"],
        "launch-92"
    );

    let address = "/api/models/launch-92?expected_revision=";
    for (revision, status) in [("1", 409), ("x", 422), ("2", 204)] {
        let request = request(Method::DELETE, &format!("{address}{revision}"));
        assert_eq!(
            bench
                .send(request.body(Body::empty()).unwrap())
                .await
                .status,
            status
        );
    }
    bench.get("/api/models/launch-92").await.problem(404);
}

#[tokio::test]
async fn all_faults_of_a_model_come_at_once_with_their_places() {
    let bench = Bench::new().await;
    let sent = json!({ "model": { "format_version": 1 }, "id": "Launch 92", "who": "a\nb" });
    let problem = bench
        .json(Method::POST, "/api/models", &sent)
        .await
        .problem(422);
    let pointers: Vec<&str> = problem["errors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|fault| fault["pointer"].as_str().unwrap())
        .collect();
    assert_eq!(pointers, ["/model/name", "/who", "/id"]);
    assert_eq!(problem["errors"][2]["given"], "Launch 92");
    assert!(problem["errors"][2]["limit"].is_string());
    assert_eq!(bench.store.count().await.unwrap(), 0);
}

#[tokio::test]
async fn an_unknown_member_is_refused_with_its_place() {
    let bench = Bench::new().await;
    let sent = json!({ "model": model_file("a"), "colour": 1 });
    let problem = bench
        .json(Method::POST, "/api/models", &sent)
        .await
        .problem(422);
    assert_eq!(problem["errors"][0]["pointer"], "/colour");
    let problem = bench
        .json(Method::POST, "/api/models", &json!({ "who": "a" }))
        .await
        .problem(422);
    assert_eq!(problem["errors"][0]["pointer"], "/model");
}

#[tokio::test]
async fn what_cannot_be_read_is_a_problem_document() {
    let bench = Bench::new().await;
    let post = |kind: &'static str, body: &'static str| {
        let request = request(Method::POST, "/api/models").header(header::CONTENT_TYPE, kind);
        bench.send(request.body(Body::from(body)).unwrap())
    };
    let problem = post("application/json", "{\"model\":").await.problem(400);
    assert!(
        problem["detail"].as_str().unwrap().contains("line 1"),
        "{problem}"
    );
    post("text/plain", "{}").await.problem(415);
    bench.get("/api/nothing").await.problem(404);
    bench.get("/api/models/x/revisions/1").await.problem(404);
    bench.store_model("x", "X").await;
    bench
        .get("/api/models/x/revisions/first")
        .await
        .problem(404);
    bench.get("/api/models/x/revisions/2").await.problem(404);
    let reply = bench.json(Method::PATCH, "/api/models/x", &json!({})).await;
    reply.problem(405);
    assert!(reply.header("allow").contains("PUT"), "{:?}", reply.headers);
}

#[tokio::test]
async fn an_id_in_use_is_a_conflict() {
    let bench = Bench::new().await;
    bench.store_model("launch", "Launch").await;
    let problem = bench
        .json(
            Method::POST,
            "/api/models",
            &json!({ "model": model_file("Launch") }),
        )
        .await;
    assert!(
        problem.problem(409)["detail"]
            .as_str()
            .unwrap()
            .contains("launch")
    );
}

#[tokio::test]
async fn health_follows_the_store() {
    let bench = Bench::new().await;
    assert_eq!(bench.get("/health").await.json()["status"], "ok");
    bench.store.close().await;
    let problem = bench.get("/health").await.problem(503);
    assert!(
        !problem.to_string().contains("pool"),
        "internals are not shown: {problem}"
    );
    bench.get("/api/models").await.problem(500);
}
