//! The questions of the programming interface, asked from outside.

use axum::http::Method;
use serde_json::{Value, json};

use crate::bench::{Bench, LAUNCH};

async fn ask(address: &str, question: &Value) -> crate::bench::Reply {
    Bench::new()
        .await
        .json(Method::POST, address, question)
        .await
}

#[tokio::test]
async fn a_conductor_is_chosen_with_its_working_and_the_caution() {
    // 33 CFR 183.425 Table 5: 12 AWG, 105 °C, 45 A; a chandler's example asks 6 271 CM.
    let reply = ask(
        "/api/calculations/conductor",
        &json!({"nominal_v": 12, "current_a": 10, "round_trip_ft": 21, "drop_limit_percent": 3,
                "drop_basis": "trade-constant", "area_basis": "awg", "insulation_degc": 105,
                "rule_set": "us", "engine_space": false, "bundled_conductors": 1}),
    )
    .await;
    let answer = reply.json();
    assert_eq!(answer["size"], "12 AWG");
    assert_eq!(answer["ampacity_a"], 45.0);
    assert_eq!(answer["governed_by"], "drop");
    assert!(answer["working"].as_array().unwrap().len() >= 3);
    assert!(!answer["sources"].as_array().unwrap().is_empty());
    assert!(answer["caution"].as_str().unwrap().contains("design aid"));
}

#[tokio::test]
async fn none_large_enough_is_null_with_the_reason() {
    let reply = ask(
        "/api/calculations/conductor",
        &json!({"nominal_v": 12, "current_a": 4000, "round_trip_m": 100, "drop_limit_percent": 1}),
    )
    .await;
    let answer = reply.json();
    assert!(answer["size"].is_null());
    assert!(!answer["reason"].as_str().unwrap().is_empty());
}

#[tokio::test]
async fn every_fault_of_a_question_comes_with_its_pointer() {
    let reply = ask(
        "/api/calculations/conductor",
        &json!({"nominal_v": 0, "current_a": "x", "length": 3, "drop_limit_percent": 101}),
    )
    .await;
    let problem = reply.problem(422);
    let errors = problem["errors"].as_array().unwrap();
    let pointers: Vec<_> = errors
        .iter()
        .map(|error| error["pointer"].as_str().unwrap())
        .collect();
    for pointer in ["/nominal_v", "/current_a", "/length", "/drop_limit_percent"] {
        assert!(pointers.contains(&pointer), "{pointer} of {pointers:?}");
    }
    assert!(errors.iter().all(|error| error["detail"].is_string()));
}

#[tokio::test]
async fn drop_ampacity_bundle_and_boats_answer() {
    let bench = Bench::new().await;
    let drop = bench
        .json(
            Method::POST,
            "/api/calculations/drop",
            &json!({"size": "16 AWG", "nominal_v": 12, "current_a": 1, "round_trip_ft": 50,
                    "drop_basis": "trade-constant", "insulation_degc": 105}),
        )
        .await
        .json();
    // CM of 16 AWG is 2 583: E = 10.75 · 1 · 50 / 2 583 V.
    assert!((drop["drop_v"].as_f64().unwrap() - 10.75 * 50.0 / 2583.0).abs() < 1e-3);
    let ampacity = bench
        .json(
            Method::POST,
            "/api/calculations/ampacity",
            &json!({"size": "14 AWG", "insulation_degc": 105, "rule_set": "us",
                    "engine_space": true, "bundled_conductors": 5, "dc_bundling": "by-count"}),
        )
        .await
        .json();
    // 35 A · 0.85 · 0.60, as a boat cable maker's chart prints it (17.9 A).
    assert!((ampacity["ampacity_a"].as_f64().unwrap() - 17.85).abs() < 1e-9);
    let bundle = bench
        .json(
            Method::POST,
            "/api/calculations/bundle",
            &json!({"diameters_mm": [2.0, 2.0, 2.0], "bore_mm": 10.0}),
        )
        .await
        .json();
    // Three equal circles fit a circle of 1 + 2/√3 = 2.1547 diameters: geometry.
    assert!((bundle["diameter_mm"].as_f64().unwrap() - 4.3094).abs() < 1e-3);
    assert_eq!(bundle["fill_limit_percent"], 40.0);
    let boats = bench
        .json(
            Method::POST,
            "/api/calculations/boats",
            &json!({"options": ["a", "b", "c"], "rules": [{"requires": ["a", "b"]}],
                    "weights": {"a": 1, "b": 2, "c": -1}}),
        )
        .await
        .json();
    assert_eq!(boats["buildable"], "6");
    assert_eq!(
        boats["heaviest"],
        json!({"weight": 3.0, "options": ["a", "b"]})
    );
}

#[tokio::test]
async fn a_network_is_solved_or_said_to_have_no_point() {
    let question = |watts: f64| {
        json!({"sources": [{"id": "s", "from": "0", "to": "p", "volts": 12, "ohms": 0}],
               "conductors": [{"id": "c", "from": "p", "to": "n", "ohms": 0.1}],
               "loads": [{"id": "l", "from": "n", "to": "0", "watts": watts}]})
    };
    let solved = ask("/api/calculations/network", &question(60.0))
        .await
        .json();
    assert_eq!(solved["status"], "solved");
    let volts = solved["loads"][0]["volts"].as_f64().unwrap();
    assert!((volts - (6.0 + (36.0_f64 - 6.0).sqrt())).abs() < 1e-9);
    let none = ask("/api/calculations/network", &question(400.0))
        .await
        .json();
    assert_eq!(none["status"], "no operating point");
    assert_eq!(none["collapse"]["load"], "l");
}

#[tokio::test]
async fn harness_contents_are_found_with_their_proof() {
    let mut question = json!({
        "modules": [{"name": "lights", "cost": 18, "add_on_extra_cost": 14},
                    {"name": "thruster", "cost": 210.5}],
        "shared": [{"needed_by": ["lights", "thruster"], "cost": 12}],
        "orders": [{"modules": ["lights"], "boats_per_year": 100},
                   {"modules": ["thruster", "lights"], "boats_per_year": 20},
                   {"modules": [], "boats_per_year": 180}],
        "part_number_cost_per_year": 1500, "boats_per_year": 300});
    let address = "/api/calculations/contents";
    let answer = ask(address, &question).await.json();
    // 240.5 on 300 boats; 30 on 280 and 240.5 on 20; 0 on 180, 30 on 100 and 240.5 on 20.
    let costs: Vec<_> = answer["levels"]
        .as_array()
        .unwrap()
        .iter()
        .map(|level| {
            (
                level["cost_per_year"].as_f64().unwrap(),
                level["proven"].as_bool(),
            )
        })
        .collect();
    assert_eq!(
        costs,
        [
            (73_650.0, Some(true)),
            (16_210.0, Some(true)),
            (12_310.0, Some(true))
        ]
    );
    assert_eq!(answer["cheapest"], 3);
    // m = 18 (the feeder stays for the thruster), a = 14, K / N = 5: from 40.6 % on.
    assert_eq!(answer["main_or_add_on"][0]["threshold"], 0.40625);
    assert_eq!(answer["main_or_add_on"][0]["place"], "add-on");
    assert!(answer["main_or_add_on"][1]["place"].is_null());

    question["boats_per_year"] = json!(301);
    question["orders"][1]["modules"] = json!(["trim"]);
    let problem = ask(address, &question).await.problem(422);
    let errors = problem["errors"].as_array().unwrap();
    let pointers: Vec<_> = errors.iter().map(|error| &error["pointer"]).collect();
    assert_eq!(pointers, ["/orders/1/modules/0", "/boats_per_year"]);
}

#[tokio::test]
async fn a_model_is_checked_without_being_stored() {
    let bench = Bench::new().await;
    let model: Value = serde_json::from_str(LAUNCH).unwrap();
    let all = bench
        .json(Method::POST, "/api/check", &json!({"model": model}))
        .await
        .json();
    assert_eq!(all["boats"]["buildable"], "1008000");
    let bow = |report: &Value| {
        let rows = report["circuits"].as_array().unwrap();
        rows.iter()
            .find(|row| row["load"] == "bow-light-1")
            .unwrap()
            .clone()
    };
    let row = bow(&all);
    assert_eq!(
        (row["outcome"].as_str(), row["limit_percent"].as_f64()),
        (Some("fails"), Some(3.0))
    );
    assert!(!row["wires"].as_array().unwrap().is_empty());
    assert_eq!(row["failing_boats"], "5856");
    let worst = row["worst_boat"].as_array().unwrap();
    assert!(worst.contains(&json!("radar")) && worst.contains(&json!("engine-220")));

    let ordered = json!(["engine-220", "pumps-offshore"]);
    let one = bench
        .json(
            Method::POST,
            "/api/check",
            &json!({"model": model, "options": ordered}),
        )
        .await
        .json();
    assert_eq!(bow(&one)["outcome"], "met");

    let unknown = bench
        .json(
            Method::POST,
            "/api/check",
            &json!({"model": model, "options": ["engine-221"]}),
        )
        .await;
    let problem = unknown.problem(422);
    assert_eq!(problem["errors"][0]["pointer"], "/options/0");
    assert!(
        problem["errors"][0]["detail"]
            .as_str()
            .unwrap()
            .contains("engine-220")
    );
    assert_eq!(bench.get("/api/models").await.json()["models"], json!([]));
}

#[tokio::test]
async fn a_boat_that_cannot_be_ordered_is_refused() {
    let model: Value = serde_json::from_str(LAUNCH).unwrap();
    let reply = ask("/api/check", &json!({"model": model, "options": []})).await;
    let problem = reply.problem(422);
    assert_eq!(problem["errors"][0]["pointer"], "/options");
    // The rule at fault is named: each boat has one of two engines.
    assert!(
        problem["errors"][0]["detail"]
            .as_str()
            .unwrap()
            .contains("engine-220")
    );
}

#[tokio::test]
async fn the_description_names_every_call() {
    let bench = Bench::new().await;
    let described = bench.get("/api/openapi.json").await.json();
    assert_eq!(described["openapi"], "3.1.0");
    for call in [
        "conductor",
        "drop",
        "ampacity",
        "network",
        "bundle",
        "boats",
        "contents",
    ] {
        assert!(described["paths"][format!("/api/calculations/{call}")]["post"].is_object());
    }
    assert!(described["paths"]["/api/check"]["post"].is_object());
    assert!(described["paths"]["/api/models/{id}"]["put"].is_object());
    let schema = bench.get("/api/model-schema.json").await.json();
    assert!(schema["$defs"]["WireRecord"].is_object());
}
