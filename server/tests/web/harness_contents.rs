//! The page of harness contents.

use axum::body::Body;
use axum::http::{Method, StatusCode, header};
use percent_encoding::{NON_ALPHANUMERIC, utf8_percent_encode};

use crate::bench::{Bench, Reply, request};

fn written(fields: &[(&str, &str)]) -> String {
    let field = |(name, text): &(&str, &str)| {
        format!("{name}={}", utf8_percent_encode(text, NON_ALPHANUMERIC))
    };
    fields.iter().map(field).collect::<Vec<_>>().join("&")
}

async fn look(fields: &[(&str, &str)]) -> Reply {
    let address = format!("/harness-contents?{}", written(fields));
    Bench::new().await.get(&address).await
}

async fn send(fields: &[(&str, &str)]) -> Reply {
    let form = request(Method::POST, "/harness-contents")
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .header("sec-fetch-site", "same-origin");
    let form = form.body(Body::from(written(fields))).unwrap();
    Bench::new().await.send(form).await
}

const ASKED: &[(&str, &str)] = &[
    ("modules", "lights, 18, 14\r\nthruster, 210.5"),
    ("shared", "lights + thruster, 12"),
    (
        "orders",
        "lights, 100\r\nthruster + lights, 20\r\nnone, 180",
    ),
    ("base_cost", ""),
    ("part_number_cost_per_year", "1500"),
    ("boats_per_year", "300"),
];

#[tokio::test]
async fn the_page_opens_with_an_invented_example_and_its_answer() {
    let page = look(&[]).await;
    assert_eq!(page.status, StatusCode::OK);
    for words in [
        "invented example",
        "class=\"met\">cheapest",
        "each order its own",
        "<polyline",
    ] {
        assert!(page.text.contains(words), "{words}: {}", page.text);
    }
    assert_eq!(page.text.matches("class=\"ring\"").count(), 1);
}

#[tokio::test]
async fn a_question_is_answered_at_an_address_of_its_own() {
    let sent = send(ASKED).await;
    assert_eq!(sent.status, StatusCode::SEE_OTHER);
    let page = Bench::new().await.get(sent.header("location")).await;
    assert_eq!(page.status, StatusCode::OK);
    // 240.5 on 300 boats; 30 on 280 and 240.5 on 20; 0 on 180, 30 on 100 and 240.5 on 20.
    let headline = "Cheapest: 3 different harnesses, 12,310 a year";
    for words in [
        headline,
        "73,650",
        "16,210",
        "40.6 %",
        "100 boats at 30",
        "20 boats at 240.50",
    ] {
        assert!(page.text.contains(words), "{words}: {}", page.text);
    }
    assert!(!page.text.contains("invented example") && !page.text.contains("not proven"));
    // What was typed stands in the form again.
    assert!(
        page.text.contains("thruster + lights, 20")
            || page.text.contains("thruster &#43; lights, 20")
    );
}

#[tokio::test]
async fn what_is_too_long_for_an_address_is_answered_where_it_was_sent() {
    let orders: Vec<String> = (0..400)
        .map(|order| {
            format!(
                "{}lights, {order}",
                "thruster + ".repeat(usize::from(order % 2 == 1))
            )
        })
        .collect();
    let orders = orders.join("\n");
    let page = send(&[
        ("modules", "lights, 18\nthruster, 210"),
        ("orders", &orders),
        ("part_number_cost_per_year", "1500"),
    ])
    .await;
    assert_eq!(page.status, StatusCode::OK);
    // Equal orders are one: 0 + 2 + ... + 398 boats, and 1 + 3 + ... + 399.
    for boats in ["39800", "40000"] {
        assert!(
            page.text
                .contains(&format!("<td class=\"number\">{boats}</td>")),
            "{}",
            page.text
        );
    }
}

#[tokio::test]
async fn every_fault_stands_at_its_field_and_what_was_typed_is_kept() {
    let page = look(&[
        ("modules", "lights, 18\n<b>, dear"),
        ("orders", "radar, 3\nlights, 4"),
        ("part_number_cost_per_year", "-1"),
        ("boats_per_year", "8"),
    ])
    .await;
    assert_eq!(page.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.text.contains("<title>Error: "));
    for field in [
        "modules",
        "orders",
        "part_number_cost_per_year",
        "boats_per_year",
    ] {
        assert!(
            page.text.contains(&format!("href=\"#{field}\"")),
            "{field}: {}",
            page.text
        );
        assert!(
            page.text.contains(&format!("id=\"{field}-fault\"")),
            "{field}: {}",
            page.text
        );
    }
    for words in [
        "Modules, line 2: “dear” is not a cost",
        "Orders, line 1: ",
        "the orders add up to 7 boats a year",
        "&#60;b&#62;, dear",
    ] {
        assert!(page.text.contains(words), "{words}: {}", page.text);
    }
    assert!(!page.text.contains("<b>, dear") && !page.text.contains("Cheapest"));
}

#[tokio::test]
async fn hostile_names_are_only_text_in_tables_and_chart() {
    let page = look(&[
        ("modules", "<script>alert('x')</script>, 18, 3"),
        ("orders", "<script>alert('x')</script>, 3\nnone, 4"),
        ("part_number_cost_per_year", "1"),
    ])
    .await;
    assert_eq!(page.status, StatusCode::OK);
    assert!(!page.text.contains("<script>alert"), "{}", page.text);
}
