//! Points and runs changed on the plan, as forms send it with and without a script.

use axum::body::Body;
use axum::http::{Method, header};
use harness_core::edits::{Key, Whole};
use harness_core::file_format;
use percent_encoding::{NON_ALPHANUMERIC, utf8_percent_encode};
use serde_json::Value;

use crate::bench::{Bench, LAUNCH, Reply, request};

const PLAN: &str = "/models/boat/edit/plan";

async fn launch() -> Bench {
    let bench = Bench::new().await;
    bench.store_file("boat", LAUNCH).await;
    bench
}

async fn post(bench: &Bench, fields: &[(&str, &str)]) -> Reply {
    let escape = |text: &str| utf8_percent_encode(text, NON_ALPHANUMERIC).to_string();
    let pairs: Vec<String> = fields
        .iter()
        .map(|(name, value)| format!("{}={}", escape(name), escape(value)))
        .collect();
    let sent = request(Method::POST, PLAN)
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .header("sec-fetch-site", "same-origin")
        .body(Body::from(pairs.join("&")));
    bench.send(sent.unwrap()).await
}

async fn thing(bench: &Bench, list: &'static str, id: &str) -> Option<Value> {
    let latest = bench.store.latest("boat").await.unwrap();
    let whole = Whole::of(&file_format::read_record(&latest.body).unwrap());
    let id = id.to_owned();
    whole.get(&Key { list, id }).cloned()
}

async fn revisions(bench: &Bench) -> i64 {
    bench.store.latest("boat").await.unwrap().head.number
}

/// A fault in the summary of a form that came back, with nothing stored.
async fn refused(bench: &Bench, fields: &[(&str, &str)], words: &str) {
    let before = revisions(bench).await;
    let reply = post(bench, fields).await;
    assert_eq!(reply.status, 422, "{fields:?}");
    let summary = reply
        .text
        .split("There is a problem")
        .nth(1)
        .expect("a summary");
    let summary = summary.split("</section>").next().unwrap();
    assert!(summary.contains(words), "{fields:?}: {summary}");
    assert_eq!(revisions(bench).await, before);
    // Each fault leads to something on the page.
    for part in summary.split("href=\"#").skip(1) {
        let field = part.split('"').next().unwrap();
        assert!(reply.text.contains(&format!("id=\"{field}\"")), "{field}");
    }
    for (name, value) in fields {
        let asked = ["x_mm", "y_mm", "id", "reason"];
        if asked.contains(name) && !value.is_empty() {
            assert!(
                reply.text.contains(&format!("value=\"{value}\"")),
                "{name} is lost"
            );
        }
    }
}

/// Value of a field of the form.
fn value(page: &str, name: &str) -> String {
    let at = page.find(&format!("<input id=\"{name}\"")).expect(name);
    let tag = page[at..].split('>').next().unwrap();
    let value = tag.split(" value=\"").nth(1).expect(name);
    value.split('"').next().unwrap().to_owned()
}

fn chosen(page: &str, name: &str) -> String {
    let list = page
        .split(&format!("<select id=\"{name}\""))
        .nth(1)
        .expect(name);
    let list = list.split("</select>").next().unwrap();
    let option = list
        .split("<option")
        .find(|option| option.contains(" selected"));
    let value = option.and_then(|option| option.split("value=\"").nth(1));
    value
        .map_or("", |value| value.split('"').next().unwrap())
        .to_owned()
}

/// Place of a point on the drawing.
fn on_sheet(page: &str, point: &str) -> (f64, f64) {
    let link = page
        .split(&format!("data-point=\"{point}\""))
        .nth(1)
        .expect(point);
    let circle = link.split("<circle").nth(1).unwrap();
    let number = |name: &str| {
        let text = circle.split(&format!(" {name}=\"")).nth(1).unwrap();
        text.split('"').next().unwrap().parse().unwrap()
    };
    (number("cx"), number("cy"))
}

/// 900 mm forward of the transom on the centerline: `laz-mid` of the demo model.
#[tokio::test]
async fn a_point_is_moved_by_choosing_it_and_then_its_place() {
    let bench = launch().await;
    let page = bench.get(PLAN).await.text;
    assert!(page.contains(&format!(
        "href=\"{PLAN}?doing=move&amp;point=laz-mid#fields\""
    )));
    let page = bench
        .get(&format!("{PLAN}?doing=move&point=laz-mid"))
        .await
        .text;
    assert_eq!(
        (value(&page, "x_mm"), value(&page, "y_mm")),
        ("900".to_owned(), "0".to_owned())
    );
    assert_eq!(chosen(&page, "zone"), "lazarette");
    // Ten units of the drawing to the right of the point, 12 mm each, taken at the nearest 10 mm.
    let (x, y) = on_sheet(&page, "laz-mid");
    let (x, y) = ((x + 10.0).round(), y.round());
    let clicked = format!(
        "{PLAN}?doing=move&units=&point=laz-mid&shown=laz-mid&x_mm=900&y_mm=0&z_mm=800\
         &zone=lazarette&reason=nearer&at.x={x}&at.y={y}"
    );
    let page = bench.get(&clicked).await.text;
    assert_eq!(value(&page, "reason"), "nearer");
    let moved: f64 = value(&page, "x_mm").parse().unwrap();
    assert!(
        (1010.0..=1030.0).contains(&moved) && moved % 10.0 == 0.0,
        "{moved}"
    );
    assert_eq!(revisions(&bench).await, 1);
    let (x, y) = (value(&page, "x_mm"), value(&page, "y_mm"));
    let reply = post(
        &bench,
        &[
            ("doing", "move"),
            ("expected_revision", "1"),
            ("point", "laz-mid"),
            ("shown", "laz-mid"),
            ("x_mm", &x),
            ("y_mm", &y),
            ("z_mm", "800"),
            ("zone", "lazarette"),
            ("who", "Ada"),
        ],
    )
    .await;
    assert_eq!(reply.status, 303, "{}", reply.text);
    assert!(reply.header("location").contains("saved=2"));
    let point = thing(&bench, "points", "laz-mid").await.unwrap();
    assert_eq!(point["x_mm"].as_f64(), Some(moved));
    // What the plan does not ask stays.
    assert_eq!(point["name"], "laz mid");
    let head = bench.store.latest("boat").await.unwrap().head;
    assert_eq!(
        (head.who.as_str(), head.reason.as_str()),
        ("Ada", "Point laz-mid moved on the plan")
    );
    let saved = bench.get(reply.header("location")).await.text;
    assert!(saved.contains("href=\"/models/boat/revisions/2\""));
    // Sent back as it is shown, it changes nothing.
    let same = [
        ("doing", "move"),
        ("expected_revision", "2"),
        ("point", "laz-mid"),
        ("shown", "laz-mid"),
        ("x_mm", &*x),
        ("y_mm", &*y),
        ("z_mm", "800"),
        ("zone", "lazarette"),
    ];
    assert_eq!(post(&bench, &same).await.status, 303);
    assert_eq!(revisions(&bench).await, 2);
}

#[tokio::test]
async fn a_point_is_added_in_the_zone_whose_outline_holds_it() {
    let bench = launch().await;
    let page = bench.get(&format!("{PLAN}?doing=move")).await.text;
    let (x, y) = on_sheet(&page, "laz-port");
    let clicked = format!(
        "{PLAN}?doing=add&name=horn&at.x={}&at.y={}",
        x.round(),
        (y + 30.0).round()
    );
    let page = bench.get(&clicked).await.text;
    assert_eq!(chosen(&page, "zone"), "lazarette");
    assert_eq!(value(&page, "name"), "horn");
    let fields = [
        ("doing", "add"),
        ("expected_revision", "1"),
        ("name", "horn"),
        ("x_mm", &*value(&page, "x_mm")),
        ("y_mm", &*value(&page, "y_mm")),
        ("z_mm", "2 ft"),
        ("zone", "lazarette"),
    ];
    let reply = post(&bench, &fields).await;
    assert!(
        reply
            .header("location")
            .contains("point=lazarette-1&saved=2"),
        "{}",
        reply.text
    );
    let point = thing(&bench, "points", "lazarette-1").await.unwrap();
    // 2 ft are 609.6 mm exactly.
    assert_eq!(
        (point["z_mm"].as_f64(), &point["zone"]),
        (Some(609.6), &Value::from("lazarette"))
    );
    // The engine space of the launch has no deck zone above this place: no choice is asked for.
    let typed = [
        ("doing", "add"),
        ("expected_revision", "2"),
        ("id", "new-point"),
        ("x_mm", "1350"),
        ("y_mm", "1150"),
    ];
    let reply = post(&bench, &typed).await;
    let zone = match reply.status.as_u16() {
        303 => thing(&bench, "points", "new-point").await.unwrap()["zone"].clone(),
        // Where a deck zone lies above, both are named.
        _ => {
            assert!(
                reply.text.contains("one above the other: choose the zone"),
                "{}",
                reply.text
            );
            let with_zone: Vec<_> = typed
                .into_iter()
                .chain([("zone", "engine-space")])
                .collect();
            assert_eq!(post(&bench, &with_zone).await.status, 303);
            thing(&bench, "points", "new-point").await.unwrap()["zone"].clone()
        }
    };
    assert_eq!(zone, "engine-space");
}

#[tokio::test]
async fn a_run_is_drawn_from_one_point_to_another() {
    let bench = launch().await;
    let page = bench
        .get(&format!("{PLAN}?doing=run&from=laz-port"))
        .await
        .text;
    assert_eq!(chosen(&page, "from"), "laz-port");
    let link = format!("href=\"{PLAN}?doing=run&amp;from=laz-port&amp;to=aft-pump#fields\"");
    assert!(page.contains(&link));
    // Pointed at beside a point, the nearest is meant.
    let (x, y) = on_sheet(&page, "aft-pump");
    let clicked = format!(
        "{PLAN}?doing=run&from=laz-port&at.x={}&at.y={}",
        x.round(),
        y.round()
    );
    assert_eq!(chosen(&bench.get(&clicked).await.text, "to"), "aft-pump");
    let ends = [
        ("doing", "run"),
        ("expected_revision", "1"),
        ("from", "laz-port"),
        ("to", "aft-pump"),
    ];
    let reply = post(&bench, &ends).await;
    assert_eq!(reply.status, 303, "{}", reply.text);
    let run = thing(&bench, "runs", "laz-port--aft-pump").await.unwrap();
    assert_eq!(
        (&run["from"], &run["to"]),
        (&"laz-port".into(), &"aft-pump".into())
    );
    // It can be taken away where every thing can.
    let page = bench
        .get(&format!("{PLAN}?run=laz-port--aft-pump"))
        .await
        .text;
    assert!(page.contains("/models/boat/edit/runs/remove?id=laz-port--aft-pump"));
}

#[tokio::test]
async fn what_cannot_be_is_told_at_its_field() {
    let bench = launch().await;
    let run = [("doing", "run"), ("expected_revision", "1")];
    for (from, to, words) in [
        ("laz-port", "laz-port", "to itself"),
        (
            "laz-mid",
            "laz-port",
            "Run laz-port--laz-mid leads between these points already",
        ),
        ("laz-port", "laz-mid", "leads between these points already"),
        ("", "laz-mid", "Choose the point at this end"),
        ("nobody", "laz-mid", "There is no point nobody"),
    ] {
        let ends = [("from", from), ("to", to)];
        let fields: Vec<_> = run.into_iter().chain(ends).collect();
        refused(&bench, &fields, words).await;
    }
    let add = [("doing", "add"), ("expected_revision", "1")];
    let cases: [(&[(&str, &str)], &str); 7] = [
        (&[("x_mm", "-5000"), ("y_mm", "0")], "lies in no zone"),
        (&[("x_mm", ""), ("y_mm", "0")], "needs both coordinates"),
        (&[("x_mm", "long"), ("y_mm", "0")], "This is no number"),
        (
            &[
                ("x_mm", "900"),
                ("y_mm", "0"),
                ("z_mm", "800"),
                ("zone", "lazarette"),
            ],
            "Point laz-mid is at this place already",
        ),
        (
            &[("x_mm", "3000"), ("y_mm", "0"), ("zone", "lazarette")],
            "lies outside of zone Lazarette",
        ),
        (
            &[
                ("x_mm", "910"),
                ("y_mm", "0"),
                ("zone", "lazarette"),
                ("id", "laz-mid"),
            ],
            "There is already a point laz-mid",
        ),
        (
            &[("x_mm", "910"), ("y_mm", "0"), ("zone", "attic")],
            "There is no zone attic",
        ),
    ];
    for (place, words) in cases {
        let fields: Vec<_> = add.into_iter().chain(place.iter().copied()).collect();
        refused(&bench, &fields, words).await;
    }
    // Coordinates of one point are never saved for another.
    let other = [
        ("doing", "move"),
        ("expected_revision", "1"),
        ("point", "laz-port"),
        ("shown", "laz-mid"),
        ("x_mm", "950"),
        ("y_mm", "0"),
    ];
    let reply = post(&bench, &other).await;
    assert_eq!(reply.status, 422);
    assert_eq!(value(&reply.text, "y_mm"), "-1150");
    let nowhere = bench.get(&format!("{PLAN}?doing=add&at.x=1&at.y=1")).await;
    assert!(nowhere.text.contains("lies in no zone"));
}

#[tokio::test]
async fn two_designers_on_one_plan_lose_nothing() {
    let bench = launch().await;
    let place = |point: &'static str, x: &'static str, seen: &'static str, y: &'static str| {
        [
            ("doing", "move"),
            ("expected_revision", seen),
            ("point", point),
            ("shown", point),
            ("x_mm", x),
            ("y_mm", y),
            ("z_mm", "800"),
            ("zone", "lazarette"),
        ]
    };
    // Both looked at revision 1 and moved different points: both stand.
    assert_eq!(
        post(&bench, &place("laz-mid", "950", "1", "0"))
            .await
            .status,
        303
    );
    assert_eq!(
        post(&bench, &place("laz-port", "950", "1", "-1150"))
            .await
            .status,
        303
    );
    for point in ["laz-mid", "laz-port"] {
        let point = thing(&bench, "points", point).await.unwrap();
        assert_eq!(point["x_mm"].as_f64(), Some(950.0));
    }
    // Who points at the plan afterwards is still held to what was on the screen.
    let query = "doing=move&expected_revision=1&point=laz-mid&shown=laz-mid&x_mm=700&y_mm=0";
    let clicked = bench.get(&format!("{PLAN}?{query}&zone=lazarette")).await;
    assert!(
        clicked
            .text
            .contains("name=\"expected_revision\" value=\"1\"")
    );
    // The same point: both versions are told, nothing is stored.
    let late = post(&bench, &place("laz-mid", "700", "1", "0")).await;
    assert_eq!(late.status, 409);
    assert!(
        late.text.contains("changed point laz-mid meanwhile"),
        "{}",
        late.text
    );
    assert!(late.text.contains("forward of the transom") || late.text.contains("950"));
    assert_eq!(value(&late.text, "x_mm"), "700");
    assert_eq!(revisions(&bench).await, 3);
    // Saved again on top of theirs, it is the author's word.
    assert!(late.text.contains("name=\"expected_revision\" value=\"3\""));
    assert_eq!(
        post(&bench, &place("laz-mid", "700", "3", "0"))
            .await
            .status,
        303
    );
    let point = thing(&bench, "points", "laz-mid").await.unwrap();
    assert_eq!(point["x_mm"].as_f64(), Some(700.0));
}

#[tokio::test]
async fn the_place_of_a_new_component_is_pointed_at() {
    let bench = launch().await;
    let page = bench.get(PLAN).await.text;
    let (x, y) = on_sheet(&page, "aft-pump");
    let address = format!(
        "/models/boat/options/add?name=Horn&draws=3+A&at.x={}&at.y={}",
        (x + 2.0).round(),
        y.round()
    );
    let page = bench.get(&address).await;
    assert_eq!(page.status, 200);
    assert_eq!(chosen(&page.text, "point"), "aft-pump");
    assert_eq!(value(&page.text, "name"), "Horn");
    assert_eq!(value(&page.text, "draws"), "3 A");
    // Enter in a field still asks for the proposal: the plan is no button before that one.
    let button = page.text.find("Propose the wiring").unwrap();
    assert!(page.text.find("type=\"image\"").unwrap() > button);
}
