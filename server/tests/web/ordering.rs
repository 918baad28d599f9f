//! The pages of options and boats: exact numbers, questions, orders, hulls, and what stands there
//! when no boat can be built.

use axum::http::{Method, StatusCode};
use serde_json::{Value, json};

use crate::bench::{Bench, LAUNCH, revision};

async fn launch() -> Bench {
    let bench = Bench::new().await;
    bench.store_file("launch-92", LAUNCH).await;
    bench
}

/// A model of options alone.
async fn model(options: Value, rules: Value, hulls: Value) -> Bench {
    let bench = Bench::new().await;
    let body = json!({
        "format_version": 1, "name": "A",
        "options": options, "option_rules": rules, "hulls": hulls,
    });
    let body = body.to_string();
    bench.store.create("a", revision("A", &body)).await.unwrap();
    bench
}

/// The text of a page as read: no tags, numbers with plain gaps.
async fn read(bench: &Bench, address: &str, status: StatusCode) -> String {
    let page = bench.get(address).await;
    assert_eq!(page.status, status, "{address}: {}", page.text);
    let mut text = String::new();
    let mut in_tag = false;
    for letter in page.text.chars() {
        match letter {
            '<' => in_tag = true,
            '>' => in_tag = false,
            '\u{202f}' => text.push(' '),
            letter if !in_tag => text.push(letter),
            _ => {}
        }
    }
    text
}

#[track_caller]
fn says(text: &str, sentences: &[&str]) {
    for sentence in sentences {
        assert!(text.contains(sentence), "{sentence}: {text}");
    }
}

#[tokio::test]
async fn the_list_of_options_tells_each_with_its_rules_and_boats() {
    let bench = launch().await;
    let text = read(&bench, "/models/launch-92/options", StatusCode::OK).await;
    says(
        &text,
        &[
            "26 options, 8 rules between them, 2 packages: 1 008 000 buildable boats",
            "604 800 60 %",
            "contains livewell, washdown, sounder",
            "part of angler-package",
            "exactly one of engine-220, engine-160 (one engine is fitted)",
            "offered from hull 12 on",
            "2 loads, 2 other parts",
        ],
    );
    assert!(!text.contains("No boat can be built"));
    let page = bench.get("/models/launch-92/options").await.text;
    for link in [
        "href=\"/models/launch-92/options/radar\"",
        "href=\"/models/launch-92?hull=13\"",
        "href=\"/models/launch-92/boats\"",
    ] {
        assert!(page.contains(link), "{link}");
    }
}

#[tokio::test]
async fn an_option_has_a_page_of_its_own() {
    let bench = launch().await;
    let address = "/models/launch-92/options/bow-thruster";
    let text = read(&bench, address, StatusCode::OK).await;
    says(
        &text,
        &[
            "On 201 600 of 1 008 000 buildable boats (20 %). Ordered on 1 of 5 hulls: 13.",
            "3 loads, 6 wires, 7 other parts",
            "the alternator of the smaller engine cannot keep up with it",
            "comes with it",
        ],
    );
    let page = bench.get(address).await.text;
    let with = page.split("id=\"with\"").nth(1).unwrap();
    let with = with.split("</section>").next().unwrap();
    for forced in [
        "options/engine-220",
        "options/shore-charger",
        "options/engine-160",
    ] {
        assert!(with.contains(forced), "{forced}: {with}");
    }
    assert!(page.contains("href=\"/models/launch-92/boats?with=bow-thruster\""));
    let missing = read(
        &bench,
        "/models/launch-92/options/none",
        StatusCode::NOT_FOUND,
    )
    .await;
    says(&missing, &["no option “none”", "engine-220, engine-160"]);
}

#[tokio::test]
async fn a_question_is_answered_exactly_with_what_follows() {
    let bench = launch().await;
    let address = "/models/launch-92/boats?with=bow-thruster,windlass&without=head";
    let text = read(&bench, address, StatusCode::OK).await;
    // By hand: 1 of 5 ways of engine, thruster and charger; 2 of pumps; 25 of the roof; 3 of
    // beacon and underwater lights; 5 of 14 with the windlass; 3 of heater and refrigerator; four
    // options free: 1 · 2 · 25 · 3 · 5 · 3 · 16.
    says(
        &text,
        &[
            "1 008 000 buildable boats = 5 × 2 × 25 × 3 × 14 × 3 × 32",
            "Boats with bow-thruster, windlass, without head",
            "36 000 of 1 008 000 buildable boats (3.6 %).",
            "Still to choose: exactly one of pumps-standard, pumps-offshore",
            "Fewest options (6)",
            "engine-220, pumps-standard, washdown, bow-thruster, windlass, shore-charger.",
            "Most options (21)",
        ],
    );
    let page = bench.get(address).await.text;
    let look = "/models/launch-92?options=engine-220%2Cpumps-standard%2Cwashdown%2Cbow-thruster\
                %2Cwindlass%2Cshore-charger";
    assert!(page.contains(look), "{page}");
    assert_eq!(bench.get(look).await.status, StatusCode::OK);
    let more = "/models/launch-92/boats?with=bow-thruster%2Cwindlass%2Cradar&#38;without=head";
    assert!(page.contains(more), "{page}");
    let done = "/models/launch-92/boats?with=engine-160,pumps-standard";
    let done = read(&bench, done, StatusCode::OK).await;
    says(&done, &["complete: what is asked for"]);
}

#[tokio::test]
async fn the_form_leads_on_to_an_address_that_names_only_the_question() {
    let bench = launch().await;
    let sent = bench
        .get("/models/launch-92/boats?hull=13&o.radar=with&o.ais=any&o.head=without&o.audio=")
        .await;
    assert_eq!(
        (sent.status, sent.header("location")),
        (
            StatusCode::SEE_OTHER,
            "/models/launch-92/boats?hull=13&with=radar&without=head"
        )
    );
    let page = bench.get(sent.header("location")).await.text;
    for kept in [
        "name=\"hull\" value=\"13\"",
        "name=\"o.radar\" value=\"with\" checked",
        "name=\"o.head\" value=\"without\" checked",
        "name=\"o.ais\" value=\"any\" checked",
        "<tr aria-current=\"true\">",
    ] {
        assert!(page.contains(kept), "{kept}: {page}");
    }
}

#[tokio::test]
async fn every_fault_of_a_question_is_told_at_once_with_what_there_is() {
    let bench = launch().await;
    let address = "/models/launch-92/boats?with=radar,%3Cb%3E&without=radar,zip&o.ais=maybe";
    let page = bench.get(address).await;
    assert_eq!(page.status, StatusCode::UNPROCESSABLE_ENTITY);
    for told in [
        "<title>Error: ",
        "given: &#60;b&#62;, zip; wanted: engine-220, engine-160",
        "radar is asked both with and without",
        "given: maybe; wanted: any, with or without",
        "href=\"#ask\"",
        "href=\"#o.ais\"",
        "1\u{202f}008\u{202f}000 buildable boats",
    ] {
        assert!(page.text.contains(told), "{told}: {}", page.text);
    }
    assert!(!page.text.contains("<b>"));
}

#[tokio::test]
async fn wishes_against_the_rules_are_named_with_the_rules() {
    let bench = launch().await;
    let address = "/models/launch-92/boats?with=bow-thruster,engine-160,roof-camera&without=radar";
    let text = read(&bench, address, StatusCode::OK).await;
    says(
        &text,
        &[
            "No such boat can be built.",
            "with engine-160, with bow-thruster: forbidden by these rules together",
            "with roof-camera, without radar: forbidden by this rule",
            "roof-camera requires radar (both stand on one bracket)",
            "give up one of each line above",
        ],
    );
    let single = "/models/launch-92/boats?with=heater,refrigerator";
    let text = read(&bench, single, StatusCode::OK).await;
    says(
        &text,
        &["not asked: with heater", "not asked: with refrigerator"],
    );
}

#[tokio::test]
async fn hulls_are_held_against_rules_and_hull_numbers() {
    let bench = model(
        json!([{"id": "old", "to_hull": 11}, {"id": "arch", "from_hull": 5}, {"id": "radar"}]),
        json!([{"only_with": ["radar", "arch", "old"], "because": "it stands on one of them"}]),
        json!([
            {"id": "0012", "options": ["old"]}, {"id": "7", "options": ["radar"]},
            {"id": "147-B", "options": ["arch"]}, {"id": "11", "options": ["old", "radar"]},
        ]),
    )
    .await;
    let text = read(&bench, "/models/a/boats", StatusCode::OK).await;
    says(
        &text,
        &[
            "7 buildable boats",
            "old is offered up to hull 11",
            "breaks: radar only with at least one of arch, old (it stands on one of them)",
            "arch is offered from hull 5 on, and the name of this hull is no whole number",
            "not evaluated, because the hull number is not a whole number",
            "1 to 4",
            "5 to 11",
            "from 12 on",
        ],
    );
    let page = bench.get("/models/a/boats").await.text;
    let rows = |class: &str| {
        page.matches(&format!("<td><span class=\"{class}\">"))
            .count()
    };
    assert_eq!(
        (rows("met"), rows("fails"), rows("not-evaluated")),
        (1, 2, 1)
    );
    // The order of a hull that breaks a rule leads to what would mend it, not to a boat.
    assert!(!page.contains("href=\"/models/a?hull=7\""));
    let options = bench.get("/models/a/options").await.text;
    assert!(options.contains("href=\"/models/a/boats?hull=7\""));
    let mend = read(&bench, "/models/a/boats?with=radar&hull=7", StatusCode::OK).await;
    says(&mend, &["Still to choose: radar only with at least one of"]);
    let unknown = read(
        &bench,
        "/models/a/boats?hull=99",
        StatusCode::UNPROCESSABLE_ENTITY,
    )
    .await;
    says(&unknown, &["no such hull", "0012, 7, 147-B, 11"]);
}

#[tokio::test]
async fn when_no_boat_can_be_built_the_pages_name_the_rules() {
    let bench = model(
        json!([{"id": "x"}, {"id": "y"}, {"id": "z"}]),
        json!([
            {"always": "x"}, {"at_most_one_of": ["y", "z"]},
            {"requires": ["x", "y"], "because": "shared feed"}, {"excludes": ["y", "x"]},
        ]),
        json!([{"id": "1", "options": ["x"]}]),
    )
    .await;
    for address in ["/models/a/options", "/models/a/boats"] {
        let text = read(&bench, address, StatusCode::OK).await;
        says(
            &text,
            &[
                "0 buildable boats",
                "No boat can be built",
                "once any one of them is dropped, the others can:",
                "x requires y (shared feed)",
                "y excludes x (no reason stated)",
            ],
        );
        let page = bench.get(address).await.text;
        let blamed = page.split("id=\"contradiction\"").nth(1).unwrap();
        let blamed = blamed.split("</section>").next().unwrap();
        assert_eq!(blamed.matches("<li>").count(), 3, "{blamed}");
    }
    let text = read(&bench, "/models/a/options/y", StatusCode::OK).await;
    says(
        &text,
        &["No boat can be built, with this option or without"],
    );
    let text = read(&bench, "/models/a/boats", StatusCode::OK).await;
    says(&text, &["not buildable", "breaks: x requires y"]);
}

#[tokio::test]
async fn options_on_no_boat_and_on_every_boat_are_flagged() {
    let bench = model(
        json!([{"id": "x"}, {"id": "y", "take_rate": 0.4}, {"id": "z", "take_rate": 0.7}]),
        json!([{"always": "x"}, {"excludes": ["x", "y"]}, {"requires": ["z", "y"]}]),
        json!([]),
    )
    .await;
    let text = read(&bench, "/models/a/options", StatusCode::OK).await;
    says(
        &text,
        &[
            "1 buildable boat",
            "On no boat: y, z.",
            "On every boat: x.",
            "Take rates that cannot all be true",
            "z is sold on 70 % of boats, y, which it requires, on 40 %",
        ],
    );
    let text = read(&bench, "/models/a/options/z", StatusCode::OK).await;
    says(
        &text,
        &[
            "on no boat of 1 buildable boat.",
            "No boat has it, because:",
            "z requires y",
            "x excludes y",
        ],
    );
    let text = read(&bench, "/models/a/options/x", StatusCode::OK).await;
    says(
        &text,
        &[
            "on every boat: 1 buildable boat.",
            "Every boat has it, because:",
            "always x",
        ],
    );
}

#[tokio::test]
async fn rules_too_tangled_to_count_are_not_evaluated_and_a_model_without_options_says_what_to_do()
{
    let options: Vec<_> = (0..400).map(|at| json!({"id": format!("o{at}")})).collect();
    let mut drawn = 1u64;
    let mut draw = || {
        // A plain congruential generator: any scattered pairs will do.
        drawn = drawn
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (drawn >> 33) % 400
    };
    let mut rules = Vec::new();
    while rules.len() < 400 {
        let (a, b) = (draw(), draw());
        if a != b {
            rules.push(json!({"excludes": [format!("o{a}"), format!("o{b}")]}));
        }
    }
    let bench = model(json!(options), json!(rules), json!([])).await;
    let text = read(&bench, "/models/a/boats", StatusCode::OK).await;
    says(
        &text,
        &["How many boats can be built is not evaluated, because the rules tie too many"],
    );
    let text = read(&bench, "/models/a/options", StatusCode::OK).await;
    says(
        &text,
        &[
            "the number of boats is not evaluated, because",
            "not evaluated",
        ],
    );

    let bench = model(json!([]), json!([]), json!([])).await;
    let text = read(&bench, "/models/a/options", StatusCode::OK).await;
    says(&text, &["No option is stated yet"]);
    let text = read(&bench, "/models/a/boats", StatusCode::OK).await;
    says(&text, &["1 buildable boat", "No hull is stated yet"]);
}

#[tokio::test]
async fn an_option_that_needs_company_is_asked_by_the_interface() {
    let bench = Bench::new().await;
    let ask = async |question: Value| {
        bench
            .json(Method::POST, "/api/calculations/boats", &question)
            .await
    };
    let answer = ask(json!({
        "options": ["radar", "mast", "arch"], "rules": [{"only_with": ["radar", "mast", "arch"]}],
    }))
    .await
    .json();
    // 4 boats without radar; with it mast, arch or both.
    assert_eq!(answer["buildable"], "7");
    let members: Vec<&String> = answer.as_object().unwrap().keys().collect();
    let fixed = [
        "buildable",
        "never",
        "always",
        "heaviest",
        "lightest",
        "conflict",
        "conflict_minimal",
    ];
    assert_eq!(members.len(), fixed.len());
    assert!(
        fixed.iter().all(|name| answer.get(name).is_some()),
        "{answer}"
    );
    let problem = ask(json!({
        "options": ["a", "b"],
        "rules": [{"only_with": ["a"]}, {"only_with": ["a", "c", "a"]}, {"always": "d"}],
    }))
    .await
    .problem(422);
    let places: Vec<&str> = problem["errors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|error| error["pointer"].as_str().unwrap())
        .collect();
    assert_eq!(
        places,
        [
            "/rules/0/only_with",
            "/rules/1/only_with/1",
            "/rules/1/only_with/2",
            "/rules/2/always",
        ]
    );
    let described = bench.get("/api/openapi.json").await.json();
    let rule = &described["components"]["schemas"]["RuleRequest"]["properties"];
    assert!(rule["only_with"]["description"].is_string());
    let stated = &described["components"]["schemas"]["OptionRuleRecord"]["properties"];
    assert_eq!(stated["only_with"]["minItems"], 2);
}
