//! Units and words of a person, on every page.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use axum::body::Body;
use axum::http::{Method, header};
use harness_core::edits::{Whole, lists};
use harness_core::file_format;
use harness_core::tabular::entries;
use harness_core::units::UnitSystem;
use regex::Regex;

use crate::bench::{Bench, LAUNCH, Reply, request};
use crate::names::written;

pub async fn get(bench: &Bench, address: &str, shown: &str) -> Reply {
    let asked = request(Method::GET, address).header(header::COOKIE, format!("shown={shown}"));
    bench.send(asked.body(Body::empty()).unwrap()).await
}

async fn post(bench: &Bench, address: &str, shown: &str, body: String) -> Reply {
    let sent = request(Method::POST, address)
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .header(header::COOKIE, format!("shown={shown}"))
        .header("sec-fetch-site", "same-origin");
    bench.send(sent.body(Body::from(body)).unwrap()).await
}

async fn launch() -> Bench {
    let bench = Bench::new().await;
    bench.store_file("boat", LAUNCH).await;
    bench
}

/// What a reader reads of a page, one text a line, without what may stay as it is stated.
fn read(page: &str) -> String {
    let main = page.split("<main").nth(1).unwrap_or(page);
    let tags = Regex::new(r"<[^>]*>").unwrap();
    let mut left = main.to_owned();
    let stated = ["ol", "tbody", "td", "form", "div", "p", "span", "text"];
    let stays = stated.map(|tag| {
        let mark = r#"(?:data-units="as-stated"|translate="no"|data-for="us" hidden)"#;
        format!(r"(?s)<{tag}[^>]* {mark}.*?</{tag}>")
    });
    let kept = ["code", "cite", "textarea", "kbd", "pre"];
    let kept = kept.map(|tag| format!(r"(?s)<{tag}\b[^>]*>.*?</{tag}>"));
    for pattern in stays.iter().chain(&kept) {
        let pattern = Regex::new(pattern).unwrap();
        left = pattern.replace_all(&left, "\n").into_owned();
    }
    let text = tags.replace_all(&left, "\n");
    written(LAUNCH).replace_all(&text, "\n").into_owned()
}

/// Pages of one route that are walked: they differ in the thing they show.
const MOST_OF_A_ROUTE: usize = 6;

/// Route of an address: its segments, of which each second one names a thing.
fn route(address: &str) -> String {
    let path = address.split('?').next().unwrap();
    let segments: Vec<&str> = path.split('/').collect();
    match segments.as_slice() {
        ["", "models", _, kind, _] if *kind != "edit" => format!("{kind}/one"),
        ["", "models", _, kind, _, last] => format!("{kind}/one/{last}"),
        _ => path.to_owned(),
    }
}

/// Every page of the boat model that a reader comes to by links: of those that only differ in the
/// thing they show the first few.
pub async fn every_page(bench: &Bench, shown: &str) -> BTreeMap<String, String> {
    let links = Regex::new(r#" href="(/models/boat[^"\#]*)""#).unwrap();
    let mut pages = BTreeMap::new();
    let mut known = BTreeSet::new();
    let mut routes: BTreeMap<String, usize> = BTreeMap::new();
    let mut waiting = VecDeque::from(["/models/boat".to_owned(), "/one-circuit".to_owned()]);
    while let Some(address) = waiting.pop_front() {
        let reply = get(bench, &address, shown).await;
        assert_eq!(reply.status, 200, "{address}");
        if !reply.header("content-type").starts_with("text/html") {
            continue;
        }
        for found in links.captures_iter(&reply.text) {
            let address = found[1].replace("&#38;", "&");
            let kind = address.split('?').next().unwrap().to_owned();
            // The same pages once more, of other boats.
            let other_boat = address.contains("hull=") || address.contains("options=");
            let of_route = routes.entry(route(&address)).or_insert(0);
            if !other_boat && *of_route < MOST_OF_A_ROUTE && known.insert(kind) {
                *of_route += 1;
                waiting.push_back(address);
            }
        }
        pages.insert(address, reply.text);
    }
    pages
}

#[tokio::test]
async fn with_us_units_no_page_shows_a_metric_quantity() {
    let bench = launch().await;
    let metric = Regex::new(r"[0-9] (m|mm|mm²|°C|kg|g)\b[^/·²]|, (m|mm|mm²|°C|kg|g)\s*\n").unwrap();
    let us = Regex::new(r"[0-9] (ft|in|CM|°F|lb|oz)\b").unwrap();
    let pages = every_page(&bench, "us").await;
    assert!(pages.len() > 80, "{} pages", pages.len());
    let mut with_us = 0;
    for (address, page) in &pages {
        let text = read(page);
        let left: Vec<_> = metric.find_iter(&text).map(|at| at.as_str()).collect();
        assert!(left.is_empty(), "{address}: {left:?}");
        with_us += usize::from(us.is_match(&text));
    }
    assert!(with_us > 25, "{with_us} pages with a quantity");
    // The same pages in the usual setting do show them, and nothing of the other side but limits
    // that are stated so.
    let usual = bench.get("/models/boat/sheets/cut-list").await.text;
    assert!(usual.contains("Cut length, mm") && metric.is_match(&read(&usual)));
}

/// A length of the demo model on three pages, with what it is in feet and inches: 1 in = 25.4 mm
/// exactly (international yard, 1959).
#[tokio::test]
async fn lengths_are_converted_from_what_is_exact() {
    let bench = launch().await;
    let csv = bench.get("/models/boat/sheets/cut-list.csv").await.text;
    let mut rows = csv::ReaderBuilder::new()
        .flexible(true)
        .from_reader(csv.as_bytes());
    let at = rows
        .headers()
        .unwrap()
        .iter()
        .position(|key| key == "cut_mm");
    let cuts: Vec<f64> = rows
        .records()
        .filter_map(|row| row.unwrap().get(at.unwrap())?.parse().ok())
        .collect();
    assert!(cuts.len() > 50);
    let page = get(&bench, "/models/boat/sheets/cut-list", "us").await.text;
    let cells = Regex::new(r#"data-quantity="([0-9.]+) mm">([0-9.]+)<"#).unwrap();
    let shown: Vec<(f64, f64)> = cells
        .captures_iter(&page)
        .map(|cell| (cell[1].parse().unwrap(), cell[2].parse().unwrap()))
        .collect();
    for cut in &cuts {
        assert!(shown.iter().any(|(exact, _)| exact == cut), "{cut}");
    }
    for (mm, inches) in shown {
        assert!((mm / 25.4 - inches).abs() <= 0.0051, "{mm} mm, {inches} in");
    }
    // Downloads stay as they are.
    let same = get(&bench, "/models/boat/sheets/cut-list.csv", "us-uk").await;
    assert_eq!(same.text, csv);
}

#[tokio::test]
async fn with_uk_words_no_page_shows_a_us_one() {
    let bench = launch().await;
    let us = Regex::new(r"(?i)\b(colors?|gray|splices?|ampacity|voltage drop|fuse blocks?|riggers?|rub rail|neighbors?|meters?|millimeters?)\b").unwrap();
    for (address, page) in every_page(&bench, "uk").await {
        let text = read(&page);
        let left: Vec<_> = us.find_iter(&text).map(|at| at.as_str()).collect();
        assert!(left.is_empty(), "{address}: {left:?}");
        assert!(page.contains("<html lang=\"en-GB\">"), "{address}");
    }
    let found = get(&bench, "/models/boat/search?q=fuse+box+grey", "").await;
    let same = get(&bench, "/models/boat/search?q=fuse+block+gray", "").await;
    let links = |reply: &Reply| reply.text.matches("<li>").count();
    assert_eq!(links(&found), links(&same));
}

#[test]
fn a_form_sent_back_as_it_was_shown_changes_no_bit() {
    let whole = Whole::of(&file_format::read_record(LAUNCH).unwrap());
    let mut fields = 0;
    for list in lists() {
        for (id, thing) in whole.things(list.name) {
            let thing = thing.as_object().unwrap();
            for entry in entries(list.form) {
                for units in [UnitSystem::Si, UnitSystem::Us] {
                    let mut sent = thing.clone();
                    let text = entry.text(thing, units);
                    entry.take(&mut sent, &text, units).unwrap();
                    let name = entry.name();
                    assert_eq!(&sent, thing, "{} {id}, {name}: {text}", list.name);
                    fields += 1;
                }
            }
        }
    }
    assert!(fields > 10_000, "{fields}");
}

fn fields(page: &str) -> Vec<(String, String)> {
    let form = page.split("id=\"fields\"").nth(1).unwrap();
    let form = form.split("</form>").next().unwrap();
    let inputs = Regex::new(r#"<input[^>]* name="([^"]*)"(?: value="([^"]*)")?"#).unwrap();
    inputs
        .captures_iter(form)
        .map(|input| {
            let value = input.get(2).map_or("", |value| value.as_str());
            let value = value.replace("&#34;", "\"").replace("&#39;", "'");
            (input[1].to_owned(), value.replace("&#38;", "&"))
        })
        .collect()
}

fn encoded(fields: &[(String, String)]) -> String {
    let escape = |text: &str| {
        percent_encoding::utf8_percent_encode(text, percent_encoding::NON_ALPHANUMERIC).to_string()
    };
    let pairs = fields.iter();
    let pairs: Vec<String> = pairs
        .map(|(name, value)| format!("{}={}", escape(name), escape(value)))
        .collect();
    pairs.join("&")
}

#[tokio::test]
async fn a_field_is_filled_and_read_in_the_units_of_its_form() {
    let bench = launch().await;
    let whole = Whole::of(&file_format::read_record(LAUNCH).unwrap());
    let (id, point) = &whole.things("points")[0];
    let was = point["x_mm"].as_f64().unwrap();
    let address = "/models/boat/edit/points/thing";
    let page = get(&bench, &format!("{address}?id={id}"), "us").await.text;
    assert!(page.contains("X, in (optional)"), "{page}");
    let mut form = fields(&page);
    // Sent as it was shown, also by somebody who has set SI since, it is no revision.
    for shown in ["us", ""] {
        let reply = post(&bench, address, shown, encoded(&form)).await;
        assert_eq!(reply.header("location"), "/models/boat/edit/points");
    }
    assert_eq!(bench.store.latest("boat").await.unwrap().head.number, 1);
    let x = form.iter_mut().find(|(name, _)| name == "x_mm").unwrap();
    assert!((x.1.parse::<f64>().unwrap() - was / 25.4).abs() < 1e-3);
    // 50 in are 1270 mm exactly.
    x.1 = "50".to_owned();
    let reply = post(&bench, address, "us", encoded(&form)).await;
    assert!(
        reply.header("location").ends_with("/revisions/2"),
        "{}",
        reply.text
    );
    let latest = bench.store.latest("boat").await.unwrap();
    let now = Whole::of(&file_format::read_record(&latest.body).unwrap());
    assert_eq!(now.things("points")[0].1["x_mm"].as_f64(), Some(1270.0));
    // Both ways of writing are read in either setting.
    for (text, mm) in [
        ("4 ft 2 1/2 in", 1282.7),
        ("1,3 m", 1300.0),
        ("140 cm", 1400.0),
    ] {
        let page = get(&bench, &format!("{address}?id={id}"), "us").await.text;
        let mut form = fields(&page);
        form.iter_mut().find(|(name, _)| name == "x_mm").unwrap().1 = text.to_owned();
        post(&bench, address, "", encoded(&form)).await;
        let latest = bench.store.latest("boat").await.unwrap();
        let now = Whole::of(&file_format::read_record(&latest.body).unwrap());
        let x = now.things("points")[0].1["x_mm"].as_f64().unwrap();
        assert!((x - mm).abs() < 1e-9, "{text}: {x}");
    }
}

#[tokio::test]
async fn one_circuit_is_asked_in_either_units() {
    let bench = Bench::new().await;
    let page = get(&bench, "/one-circuit", "us").await.text;
    assert!(page.contains("Temperature of the conductor, °F"));
    assert!(page.contains("name=\"conductor_temperature_degc\" value=\"86\""));
    // 30 °C are 86 °F; 12 ft 6 in are 3.81 m.
    let rest =
        "nominal_v=12&current_a=5&drop_limit_percent=3&insulation_degc=105&bundled_conductors=1";
    let us = format!(
        "/one-circuit?units=us&round_trip_ft=12+ft+6+in&conductor_temperature_degc=86&{rest}"
    );
    let si = format!("/one-circuit?round_trip_m=3%2C81&conductor_temperature_degc=30&{rest}");
    let [us, si] = [bench.get(&us).await, bench.get(&si).await];
    assert_eq!((us.status.as_u16(), si.status.as_u16()), (200, 200));
    let answer = |page: &str| page.split("class=\"figures\"").nth(1).map(str::to_owned);
    let figures = |page: &str| {
        let answer = answer(page).expect("an answer");
        answer.split("</dl>").next().unwrap().to_owned()
    };
    assert_eq!(figures(&us.text), figures(&si.text));
    let bad = bench
        .get(&format!("/one-circuit?round_trip_m=3+A&{rest}"))
        .await;
    assert_eq!(bad.status, 422);
}

#[tokio::test]
async fn settings_are_kept_by_the_browser_and_never_mixed() {
    let bench = launch().await;
    let kept = post(
        &bench,
        "/settings",
        "",
        "units=us&sizes=ordered&words=uk&back=%2Fmodels%2Fboat".to_owned(),
    )
    .await;
    assert_eq!(kept.status, 303);
    assert_eq!(kept.header("location"), "/models/boat");
    assert!(
        kept.header("set-cookie")
            .starts_with("shown=us-uk; Path=/;")
    );
    let form = get(&bench, "/settings", "us-uk").await.text;
    for taken in ["units-us", "sizes-ordered", "words-uk"] {
        let input = form.split(&format!("id=\"{taken}\"")).nth(1).unwrap();
        assert!(
            input.split('>').next().unwrap().contains("checked"),
            "{taken}"
        );
    }
    // One address in turn, so that the shelf of pages has it.
    let address = "/models/boat/zones";
    let mut tags = BTreeSet::new();
    let mut texts = BTreeSet::new();
    for _ in 0..2 {
        for shown in ["", "us", "uk", "us-uk", "us-both"] {
            let reply = get(&bench, address, shown).await;
            assert!(
                reply
                    .headers
                    .get_all("vary")
                    .iter()
                    .any(|vary| vary == "Cookie")
            );
            tags.insert(reply.header("etag").to_owned());
            texts.insert((shown, reply.text));
        }
    }
    assert_eq!((tags.len(), texts.len()), (5, 5));
    // A copy of one setting is none of another.
    for shown in ["", "us", "us-uk"] {
        let tag = get(&bench, address, shown).await.header("etag").to_owned();
        for other in ["", "us", "us-uk"] {
            let asked = request(Method::GET, address)
                .header(header::COOKIE, format!("shown={other}"))
                .header(header::IF_NONE_MATCH, &tag);
            let reply = bench.send(asked.body(Body::empty()).unwrap()).await;
            let wanted = if shown == other { 304 } else { 200 };
            assert_eq!(reply.status.as_u16(), wanted, "{shown} asked as {other}");
            if wanted == 304 {
                assert_eq!(reply.header("etag"), tag);
            }
        }
    }
    // Errors and forms that come back follow too.
    let gone = get(&bench, "/models/boat/zones/nowhere", "uk").await;
    assert!(gone.text.contains("lang=\"en-GB\""));
}
