//! Changing a boat model in the browser: forms, revisions, undo, two people at once.

use std::collections::BTreeMap;

use axum::body::Body;
use axum::http::{Method, header};
use harness_core::edits::{Key, Whole, lists};
use harness_core::file_format;
use percent_encoding::{NON_ALPHANUMERIC, utf8_percent_encode};

use crate::bench::{Bench, LAUNCH, Reply, request};
use crate::form_fields::fields;

const TENDER: &str = include_str!("../../samples/tender-56.json");
const TO: &str = "/models/boat";

fn escaped(text: &str) -> String {
    utf8_percent_encode(text, NON_ALPHANUMERIC).to_string()
}

struct Designer<'b> {
    bench: &'b Bench,
}

impl Designer<'_> {
    async fn post(&self, address: &str, fields: &BTreeMap<String, String>) -> Reply {
        let pairs = fields.iter();
        let pairs: Vec<String> = pairs
            .map(|(n, v)| format!("{}={}", escaped(n), escaped(v)))
            .collect();
        let sent = request(Method::POST, address)
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
            .header("sec-fetch-site", "same-origin")
            .body(Body::from(pairs.join("&")));
        self.bench.send(sent.unwrap()).await
    }

    async fn open(&self, list: &str, id: &str) -> (String, BTreeMap<String, String>) {
        let address = format!("{TO}/edit/{list}/thing?id={}", escaped(id));
        let page = self.bench.get(&address).await;
        assert_eq!(page.status, 200, "{address}: {}", page.text);
        (format!("{TO}/edit/{list}/thing"), fields(&page.text))
    }

    async fn change(&self, list: &str, id: &str, new: &[(&str, &str)]) -> Reply {
        let (address, mut fields) = self.open(list, id).await;
        for (name, value) in new {
            assert!(fields.contains_key(*name), "{name} is not among {fields:?}");
            fields.insert((*name).to_owned(), (*value).to_owned());
        }
        self.post(&address, &fields).await
    }
}

async fn boat(file: &str) -> Bench {
    let bench = Bench::new().await;
    bench.store_file("boat", file).await;
    bench
}

async fn whole(bench: &Bench) -> Whole {
    let latest = bench.store.latest("boat").await.unwrap();
    Whole::of(&file_format::read_record(&latest.body).unwrap())
}

async fn field(bench: &Bench, list: &'static str, id: &str, name: &str) -> Option<String> {
    let whole = whole(bench).await;
    let thing = whole.get(&Key {
        list,
        id: id.to_owned(),
    })?;
    thing.get(name)?.as_str().map(str::to_owned)
}

fn revision(reply: &Reply) -> i64 {
    let told = reply
        .text
        .split("There is a problem")
        .nth(1)
        .unwrap_or(&reply.text);
    assert_eq!(reply.status, 303, "{}", &told[..told.len().min(600)]);
    let to = reply.header("location").rsplit('/').next().unwrap();
    to.parse()
        .unwrap_or_else(|_| panic!("{}", reply.header("location")))
}

#[tokio::test]
async fn each_thing_saved_untouched_is_no_change() {
    for file in [TENDER, LAUNCH] {
        let bench = boat(file).await;
        let designer = Designer { bench: &bench };
        let model = whole(&bench).await;
        let mut forms = 0;
        for list in lists() {
            // Of the large model some of each.
            let step = if file.len() > 60_000 { 7 } else { 1 };
            for (id, _) in model.things(list.name).iter().step_by(step) {
                let reply = designer.change(list.name, id, &[]).await;
                assert_eq!(reply.status, 303, "{} {id}: {}", list.name, reply.text);
                assert_eq!(reply.header("location"), format!("{TO}/edit/{}", list.name));
                forms += 1;
            }
        }
        let reply = designer.change("model", "", &[]).await;
        assert_eq!(
            reply.header("location"),
            format!("{TO}/edit"),
            "{}",
            reply.text
        );
        assert!(forms > 60, "{forms}");
        assert_eq!(bench.store.latest_head("boat").await.unwrap().number, 1);
    }
}

#[tokio::test]
async fn a_change_is_one_revision_told_in_words_and_can_be_undone_and_redone() {
    let bench = boat(TENDER).await;
    let designer = Designer { bench: &bench };
    let first = bench.store.latest("boat").await.unwrap().body;
    let reply = designer
        .change(
            "wires",
            "8-F1",
            &[
                ("size", " 10awg"),
                ("who", "Ada"),
                ("reason", "washdown pump"),
            ],
        )
        .await;
    assert_eq!(revision(&reply), 2);
    assert!(reply.header("set-cookie").starts_with("who=Ada;"));
    let page = bench.get(&format!("{TO}/revisions/2")).await.text;
    assert!(
        page.contains("size: 16 AWG, now 10 AWG") && page.contains("washdown pump"),
        "{page}"
    );
    assert!(page.contains("by Ada"), "{page}");
    let second = bench.store.latest("boat").await.unwrap().body;
    assert_eq!(
        revision(
            &designer
                .change("wires", "8-F2", &[("size", "10 AWG")])
                .await
        ),
        3
    );

    for (to, seen, offered) in [
        (2, 3, ["Undo: back to revision 2", ""]),
        (
            1,
            4,
            ["Undo: back to revision 1", "Redo: forward to revision 3"],
        ),
        (2, 5, ["", "Redo: forward to revision 2"]),
    ] {
        let page = bench.get(&format!("{TO}/revisions")).await.text;
        for words in offered.iter().filter(|words| !words.is_empty()) {
            assert!(page.contains(words), "{seen}: {words}");
        }
        let fields = BTreeMap::from([("expected_revision".to_owned(), seen.to_string())]);
        let address = format!("{TO}/revisions/{to}/bring-back");
        assert_eq!(designer.post(&address, &fields).await.status, 303);
    }
    // Byte by byte what it was.
    assert_eq!(bench.store.revision("boat", 5).await.unwrap().body, first);
    assert_eq!(bench.store.latest("boat").await.unwrap().body, second);
    // Who looked at an older state does not undo what came since.
    let fields = BTreeMap::from([("expected_revision".to_owned(), "3".to_owned())]);
    let late = designer
        .post(&format!("{TO}/revisions/1/bring-back"), &fields)
        .await;
    assert_eq!(late.status, 409);
}

#[tokio::test]
async fn one_revision_is_taken_back_and_later_ones_stay() {
    let bench = boat(TENDER).await;
    let designer = Designer { bench: &bench };
    designer
        .change("wires", "8-F1", &[("size", "10 AWG")])
        .await;
    designer.change("wires", "3-F1", &[("color", "pink")]).await;
    let take = |number: i64, seen: i64| {
        let fields = BTreeMap::from([("expected_revision".to_owned(), seen.to_string())]);
        (format!("{TO}/revisions/{number}/take-back"), fields)
    };
    let (address, fields) = take(2, 3);
    assert_eq!(designer.post(&address, &fields).await.status, 303);
    assert_eq!(
        field(&bench, "wires", "8-F1", "size").await.as_deref(),
        Some("16 AWG")
    );
    assert_eq!(
        field(&bench, "wires", "3-F1", "color").await.as_deref(),
        Some("pink")
    );
    designer
        .change("wires", "3-F1", &[("color", "white")])
        .await;
    let (address, fields) = take(3, 5);
    let refused = designer.post(&address, &fields).await;
    assert_eq!(refused.status, 422);
    assert!(refused.text.contains("changed again since") && refused.text.contains("wire 3-F1"));
    assert_eq!(
        field(&bench, "wires", "3-F1", "color").await.as_deref(),
        Some("white")
    );
}

#[tokio::test]
async fn what_does_not_fit_comes_back_at_its_field_with_what_was_typed() {
    let bench = boat(TENDER).await;
    let designer = Designer { bench: &bench };
    let bad = [
        ("wires", "8-F1", "size", "eleven"),
        ("wires", "8-F1", "from", "nowhere"),
        ("wires", "8-F1", "to", "no-such-thing.1"),
        ("wires", "8-F1", "harness", "no-such-harness"),
        ("wires", "8-F1", "id", "8-F2"),
        ("wires", "8-F1", "id", ""),
        ("loads", "washdown-pump-1", "current_a", "lots"),
        ("loads", "washdown-pump-1", "current_a", "-3"),
        ("loads", "washdown-pump-1", "fitted_when", "washdown and"),
        ("loads", "washdown-pump-1", "fitted_when", "no-such-option"),
        ("loads", "washdown-pump-1", "runs_in", "anchored"),
        ("devices", "fuse-8", "fitted_in.position", "99"),
        ("points", "bow-light", "x_mm", "3 kg"),
        ("model", "", "settings.slack_share", "7"),
        ("model", "", "name", ""),
        ("options", "washdown", "take_rate", "often"),
    ];
    for (list, id, name, value) in bad {
        let reply = designer
            .change(list, id, &[(name, value), ("reason", "a <reason>")])
            .await;
        let place = format!("{list} {id} {name} {value}");
        assert_eq!(reply.status, 422, "{place}: {}", reply.header("location"));
        assert!(reply.text.contains("<title>Error: "), "{place}");
        let kept = fields(&reply.text);
        assert_eq!(kept[name], value, "{place}");
        assert_eq!(kept["reason"], "a <reason>", "{place}");
        let shown = reply.text.contains(&format!("href=\"#{name}\""))
            || reply.text.contains("href=\"#fields\"");
        assert!(shown, "{place}: {}", reply.text);
    }
    assert_eq!(bench.store.latest_head("boat").await.unwrap().number, 1);
    // Few fields sent, as by another program: the others come back as they are stated.
    let few = BTreeMap::from([
        ("expected_revision".to_owned(), "1".to_owned()),
        ("key".to_owned(), "8-F1".to_owned()),
        ("size".to_owned(), "eleven".to_owned()),
    ]);
    let back = designer.post(&format!("{TO}/edit/wires/thing"), &few).await;
    let back = fields(&back.text);
    assert_eq!(
        (back["size"].as_str(), back["to"].as_str()),
        ("eleven", "switch-8.in")
    );
    let foreign = designer
        .post(&format!("{TO}/edit/wires/thing"), &BTreeMap::new())
        .await;
    assert_eq!(foreign.status, 404, "a form without a revision");
    for (address, status) in [
        (format!("{TO}/edit/nothing"), 404),
        (format!("{TO}/edit/wires/thing?id=none"), 404),
        (format!("{TO}/edit/wires/remove?id=none"), 404),
        (format!("{TO}/revisions/99"), 404),
        (format!("{TO}/revisions/x"), 404),
        ("/models/none/edit".to_owned(), 404),
    ] {
        assert_eq!(bench.get(&address).await.status, status, "{address}");
    }
}

#[tokio::test]
async fn two_people_at_once_lose_nothing() {
    let bench = boat(TENDER).await;
    let designer = Designer { bench: &bench };
    let (address, mut mine) = designer.open("wires", "8-F1").await;
    let (_, mut theirs) = designer.open("wires", "8-F2").await;
    let (_, mut same) = designer.open("wires", "8-F1").await;
    mine.insert("size".to_owned(), "10 AWG".to_owned());
    theirs.insert("size".to_owned(), "12 AWG".to_owned());
    same.insert("size".to_owned(), "8 AWG".to_owned());
    same.insert("who".to_owned(), "Bea".to_owned());
    assert_eq!(revision(&designer.post(&address, &mine).await), 2);
    assert_eq!(revision(&designer.post(&address, &theirs).await), 3);
    let refused = designer.post(&address, &same).await;
    assert_eq!(refused.status, 409, "{}", refused.text);
    let row = "<td>16 AWG</td><td>8 AWG</td><td>10 AWG</td>";
    assert!(refused.text.contains(row), "{}", refused.text);
    assert_eq!(
        field(&bench, "wires", "8-F1", "size").await.as_deref(),
        Some("10 AWG")
    );
    // Told of both, she decides for hers.
    let again = fields(&refused.text);
    assert_eq!(again["size"], "8 AWG");
    assert_eq!(revision(&designer.post(&address, &again).await), 4);
    assert_eq!(
        field(&bench, "wires", "8-F1", "size").await.as_deref(),
        Some("8 AWG")
    );
    assert_eq!(
        field(&bench, "wires", "8-F2", "size").await.as_deref(),
        Some("12 AWG")
    );
}

#[tokio::test]
async fn the_effect_is_seen_before_anything_is_stored() {
    let bench = boat(TENDER).await;
    let designer = Designer { bench: &bench };
    let thin = [("size", "18 AWG"), ("look", "yes")];
    let (address, mut fields_of) = designer.open("wires", "8-F2").await;
    for (name, value) in thin {
        fields_of.insert(name.to_owned(), value.to_owned());
    }
    let seen = designer.post(&address, &fields_of).await;
    assert_eq!(seen.status, 200, "{}", seen.text);
    assert!(
        seen.text
            .contains("Limits that fail after it and did not before"),
        "{}",
        seen.text
    );
    assert!(seen.text.contains("Nothing is stored yet"));
    assert!(seen.text.contains("states the price of one meter for"));
    assert_eq!(bench.store.latest_head("boat").await.unwrap().number, 1);
    // The form below it saves what was looked at.
    let kept = fields(&seen.text);
    assert_eq!(kept["size"], "18 AWG");
    assert_eq!(revision(&designer.post(&address, &kept).await), 2);
    let page = bench
        .get(&format!("{TO}/revisions/2?effect=yes"))
        .await
        .text;
    assert!(
        page.contains("What it does to every boat") && page.contains("8-F2"),
        "{page}"
    );
}

#[tokio::test]
async fn fifty_changes_at_once_are_all_there() {
    let bench = boat(LAUNCH).await;
    let designer = Designer { bench: &bench };
    let model = whole(&bench).await;
    let wires: Vec<String> = model
        .things("wires")
        .iter()
        .take(50)
        .map(|(id, _)| id.clone())
        .collect();
    let mut forms = Vec::new();
    for wire in &wires {
        let (address, mut fields) = designer.open("wires", wire).await;
        fields.insert("color".to_owned(), format!("color of {wire}"));
        forms.push((address, fields));
    }
    let all = forms
        .iter()
        .map(|(address, fields)| designer.post(address, fields));
    let replies = futures_util::future::join_all(all).await;
    let numbers: std::collections::BTreeSet<i64> = replies.iter().map(revision).collect();
    assert_eq!(numbers, (2..=51).collect());
    for wire in &wires {
        let color = field(&bench, "wires", wire, "color").await;
        assert_eq!(color, Some(format!("color of {wire}")));
    }
}

#[tokio::test]
async fn a_new_name_is_spoken_everywhere_and_a_thing_in_use_is_not_removed() {
    let bench = boat(TENDER).await;
    let designer = Designer { bench: &bench };
    let renamed = designer
        .change("loads", "washdown-pump-1", &[("id", "deck-wash")])
        .await;
    assert_eq!(revision(&renamed), 2);
    let latest = bench.store.latest("boat").await.unwrap().body;
    assert!(!latest.contains("washdown-pump-1") && latest.contains("\"deck-wash\""));
    file_format::read(&latest).unwrap();

    let page = bench
        .get(&format!("{TO}/edit/loads/remove?id=deck-wash"))
        .await
        .text;
    assert!(
        page.contains("speak of load deck-wash") && page.contains("connector plug-8"),
        "{page}"
    );
    let gone = |key: &str, seen: &str| {
        BTreeMap::from([
            ("key".to_owned(), key.to_owned()),
            ("expected_revision".to_owned(), seen.to_owned()),
        ])
    };
    let refused = designer
        .post(&format!("{TO}/edit/loads/remove"), &gone("deck-wash", "2"))
        .await;
    assert_eq!(refused.status, 422);
    assert!(
        refused.text.contains("connector plug-8"),
        "{}",
        refused.text
    );
    let free = designer
        .post(&format!("{TO}/edit/hulls/remove"), &gone("3", "2"))
        .await;
    assert_eq!(revision(&free), 3);
    assert!(
        whole(&bench)
            .await
            .things("hulls")
            .iter()
            .all(|(id, _)| id != "3")
    );
    let again = designer
        .post(&format!("{TO}/edit/hulls/remove"), &gone("3", "3"))
        .await;
    assert_eq!(again.status, 404);
}

#[tokio::test]
async fn a_new_thing_is_added_and_units_are_taken_as_typed() {
    let bench = boat(TENDER).await;
    let designer = Designer { bench: &bench };
    let (address, mut new) = {
        let page = bench.get(&format!("{TO}/edit/points/thing")).await;
        (format!("{TO}/edit/points/thing"), fields(&page.text))
    };
    for (name, value) in [
        ("id", "locker"),
        ("name", "Locker"),
        ("zone", "bow"),
        ("x_mm", "12 ft 6 in"),
        ("y_mm", "-3,5 cm"),
        ("z_mm", "0.4 m"),
    ] {
        new.insert(name.to_owned(), value.to_owned());
    }
    assert_eq!(revision(&designer.post(&address, &new).await), 2);
    let whole = whole(&bench).await;
    let thing = whole.get(&Key {
        list: "points",
        id: "locker".to_owned(),
    });
    let thing = thing.unwrap();
    // 12.5 ft of 304.8 mm (NIST Special Publication 811, appendix B.9).
    assert_eq!(thing["x_mm"], 3810.0);
    assert_eq!(thing["y_mm"], -35.0);
    assert_eq!(thing["z_mm"], 400.0);
    let asked = request(Method::GET, &format!("{TO}/edit/points/thing?id=locker"))
        .header(header::COOKIE, "who=Ada%20B");
    let page = bench.send(asked.body(Body::empty()).unwrap()).await;
    assert_eq!(fields(&page.text)["who"], "Ada B");
}

#[tokio::test]
async fn rows_pasted_from_a_spreadsheet_are_told_before_they_are_stored() {
    let bench = boat(TENDER).await;
    let rows = "Id\tSize\tColour\n8-F1\t10 AWG\tbrown\n8-F2\t10AWG\tpink\n";
    let address = format!("{TO}/spreadsheet");
    let texts = [
        ("pasted", rows),
        ("list", "wires"),
        ("expected_revision", "1"),
    ];
    let dry = bench.form(&address, "", &texts).await;
    assert_eq!(dry.status, 200, "{}", dry.text);
    assert!(
        dry.text.contains("10 AWG") && dry.text.contains("pink"),
        "{}",
        dry.text
    );
    assert_eq!(bench.store.latest_head("boat").await.unwrap().number, 1);
    let wrong = [
        ("pasted", "Id\tSize\n8-F1\tlots\n"),
        ("list", "wires"),
        ("expected_revision", "1"),
    ];
    let refused = bench.form(&address, "", &wrong).await;
    assert_eq!(refused.status, 422);
    assert!(
        refused.text.contains("B2") && refused.text.contains("8-F1\tlots"),
        "{}",
        refused.text
    );
}
