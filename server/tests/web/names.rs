//! What a builder has written is shown as he wrote it, whatever units and words a reader has set.

use axum::http::Method;
use regex::Regex;
use serde_json::{Value, json};

use crate::bench::{Bench, LAUNCH};
use crate::settings::{every_page, get};

/// Fields that hold names and notes.
const WRITTEN: [&str; 16] = [
    "name",
    "about",
    "figure_source",
    "sleeve",
    "covering",
    "because",
    "closes_at",
    "reached_by",
    "part_number",
    "revision",
    "wire_seal",
    "cavity_plug",
    "number",
    "part",
    "stations_done",
    "harness_serials",
];

/// Finds what a model file states in words of its own, if a setting would change it.
pub fn written(model: &str) -> Regex {
    let changed = Regex::new(
        r"(?i)\b(colors?|gray|splices?|fuse blocks?|breakers?|windshield|harbor)\b|[0-9] (m|mm|kg)\b",
    )
    .unwrap();
    let mut texts = Vec::new();
    collect(&serde_json::from_str(model).unwrap(), &mut texts);
    texts.retain(|text| changed.is_match(text));
    texts.sort_by_key(|text| std::cmp::Reverse(text.len()));
    let texts: Vec<_> = texts.iter().map(|text| regex::escape(text)).collect();
    Regex::new(&format!("(?i){}", texts.join("|"))).unwrap()
}

fn collect(value: &Value, texts: &mut Vec<String>) {
    match value {
        Value::Object(fields) => {
            for (field, value) in fields {
                match value.as_str() {
                    Some(text) if WRITTEN.contains(&field.as_str()) || field == "id" => {
                        texts.push(text.replace('\'', "&#39;"));
                    }
                    _ => collect(value, texts),
                }
            }
        }
        Value::Array(items) => items.iter().for_each(|item| collect(item, texts)),
        _ => {}
    }
}

/// The demo launch with a word and a quantity in each name and note, and a word in ids of loads.
fn named() -> String {
    let mut model: Value = serde_json::from_str(LAUNCH).unwrap();
    name(&mut model);
    let loads = model["loads"].as_array().unwrap();
    let ids: Vec<String> = loads
        .iter()
        .map(|load| load["id"].as_str().unwrap().to_owned())
        .filter(|id| id.contains('-'))
        .collect();
    assert!(ids.len() > 5);
    let mut text = model.to_string();
    for id in ids {
        for end in ['"', '.'] {
            text = text.replace(&format!("\"{id}{end}"), &format!("\"{id}-gray{end}"));
        }
    }
    text
}

fn name(value: &mut Value) {
    match value {
        Value::Object(fields) => {
            for (field, value) in fields {
                match value {
                    Value::String(text) if WRITTEN.contains(&field.as_str()) => {
                        text.push_str(" color 25 mm");
                    }
                    Value::Array(texts) if WRITTEN.contains(&field.as_str()) => {
                        for text in texts.iter_mut().filter_map(|text| match text {
                            Value::String(text) => Some(text),
                            _ => None,
                        }) {
                            text.push_str(" color 25 mm");
                        }
                    }
                    _ => name(value),
                }
            }
        }
        Value::Array(items) => items.iter_mut().for_each(name),
        _ => {}
    }
}

#[tokio::test]
async fn names_with_words_and_quantities_survive_on_every_page_in_every_setting() {
    let bench = Bench::new().await;
    bench.store_file("boat", &named()).await;
    let tags = Regex::new(r"<[^>]*>").unwrap();
    let turned =
        Regex::new(r"(?i).{0,60}(colour 25 mm|colou?r 0\.98 in|[a-z]-grey\b).{0,20}").unwrap();
    let mut left = Vec::new();
    for shown in ["us", "uk", "us-uk-both"] {
        let mut names = 0;
        for (address, page) in every_page(&bench, shown).await {
            names += page.matches("color 25 mm").count();
            let text = tags.replace_all(&page, "\n");
            let found = turned.find_iter(&text).chain(turned.find_iter(&page));
            left.extend(found.map(|at| format!("{shown} {address}: {}", at.as_str())));
        }
        assert!(names > 2_000, "{names} names in {shown}");
    }
    assert!(
        left.is_empty(),
        "{}: {:#?}",
        left.len(),
        &left[..left.len().min(60)]
    );
}

#[tokio::test]
async fn names_survive_in_lists_of_models_in_the_search_the_parts_list_and_older_revisions() {
    let bench = Bench::new().await;
    bench.store_file("boat", &named()).await;
    let mut model: Value = serde_json::from_str(&named()).unwrap();
    model["loads"][0]["name"] = json!("plain");
    let sent = json!({"expected_revision": 1, "who": "a", "reason": "b", "model": model});
    let saved = bench.json(Method::PUT, "/api/models/boat", &sent).await;
    assert!(saved.status.is_success(), "{}", saved.text);
    let part = json!({"id": "gray-1", "name": "Panel color 25 mm", "current_a": 1});
    let list = json!({"format_version": 1, "loads": [part]});
    let sent = json!({"expected_revision": 0, "who": "a", "reason": "b", "parts": list});
    let saved = bench.json(Method::PUT, "/api/parts", &sent).await;
    assert!(saved.status.is_success(), "{}", saved.text);
    for shown in ["us", "uk", "us-uk-both"] {
        for address in [
            "/",
            "/search?q=launch",
            "/parts",
            "/parts/revisions/1",
            "/models/boat/revisions/2",
        ] {
            let page = get(&bench, address, shown).await;
            assert_eq!(page.status, 200, "{address}");
            let page = page.text;
            assert!(page.contains("olor 25 mm"), "{address} {shown}");
            assert!(!page.contains("olour 25 mm"), "{address} {shown}");
            assert!(!page.contains("olor 0.98 in"), "{address} {shown}");
        }
        let page = get(&bench, "/parts", shown).await.text;
        assert!(page.contains("gray-1") && !page.contains("grey-1"));
    }
}
