//! The checks find what was planted: a check that cannot fail tells nothing.

use std::collections::BTreeSet;

use percent_encoding::{NON_ALPHANUMERIC, utf8_percent_encode};

use crate::axe::{Tally, equip, everything};
use crate::browser::{Browser, Script, is_installed, with_browser};

/// A page without a fault around what stands in its main part.
fn page(style: &str, main: &str) -> String {
    let html = format!(
        "<!DOCTYPE html><html lang='en'><head><title>Planted</title>\
         <meta name='viewport' content='width=device-width, initial-scale=1'>\
         <style>a, button {{ display: inline-block; min-width: 44px; min-height: 44px }} \
         :focus-visible {{ outline: 3px solid }} {style}</style></head>\
         <body><main><h1>Planted</h1>{main}</main></body></html>"
    );
    let html = utf8_percent_encode(&html, NON_ALPHANUMERIC);
    format!("data:text/html;charset=utf-8,{html}")
}

/// What was planted: style, content, and words of what must be found.
const PLANTED: &[(&str, &str, &[&str])] = &[
    (
        ".small { font-size: 8px; width: 10px; height: 10px; min-width: 0; min-height: 0; line-height: 1 }",
        "<a class='small' href='#a'>a</a><a class='small' href='#b'>b</a>",
        &["violations: target-size", "least 24"],
    ),
    (
        ".small { width: 10px; height: 10px; min-width: 0; min-height: 0; padding: 0; margin: 60px }",
        "<p>Alone, which axe-core lets pass:</p><button class='small' aria-label='Go'></button>",
        &["least 24"],
    ),
    (
        "",
        "<p class='shop'>For gloves</p><button style='min-height: 30px; min-width: 30px'>x</button>",
        &["least 44"],
    ),
    ("", "<input name='a'>", &["violations: label"]),
    (
        "p { color: #aaa; background: #fff }",
        "<p>Pale words</p>",
        &["light: violations: color-contrast", "least 4.5"],
    ),
    (
        "@media (prefers-color-scheme: dark) { p { color: #444; background: #222 } }",
        "<p>Pale only in the dark</p>",
        &[
            "dark: violations: color-contrast",
            "dark: main > p “Pale only in the dark” has a contrast of 1.63",
        ],
    ),
    (
        "@media (prefers-color-scheme: dark) { input { color: #444; background: #222; border-color: #fff } }",
        "<input aria-label='Pale' value='Pale only in the dark'>",
        &["dark: main > input “Pale only in the dark” has a contrast of 1.63, least 4.5"],
    ),
    (
        "p { background: linear-gradient(#fff, #777) }",
        "<p>Words on a shade</p>",
        &["light: incomplete: color-contrast"],
    ),
    (
        "",
        "<svg width='60' height='20'><text y='15' fill='#bbb'>7</text></svg>",
        &["least 4.5"],
    ),
    (
        "input { border: 1px solid #ddd }",
        "<input aria-label='Hardly seen'>",
        &["light: main > input “” has an edge or line of contrast 1.36, least 3"],
    ),
    (
        "",
        "<h4>Not the next level</h4>",
        &["violations: heading-order"],
    ),
    (
        "p { width: 40rem }",
        "<p>Wide</p>",
        &["320 px: scrolls sideways"],
    ),
    (
        "p { width: 8rem; height: 1.2em; line-height: 1.2; overflow: hidden }",
        "<p>Sixteen letters</p>",
        &["spaced: main > p"],
    ),
    (
        "button:focus-visible { outline: none }",
        "<button>Go</button>",
        &["looks the same with the focus"],
    ),
    (
        "div { position: fixed; inset: 0; background: #fff }",
        "<button>Below</button><div></div>",
        &["is covered when it has the focus"],
    ),
];

async fn found(browser: &Browser, style: &str, main: &str) -> Vec<String> {
    browser.open(&page(style, main)).await;
    everything(browser, &Tally::default()).await
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_planted_is_found() {
    if !is_installed() {
        return;
    }
    with_browser(Script::On, async |browser| {
        equip(browser).await;
        let none = found(
            browser,
            "",
            "<p>Nothing is wrong here.</p><button>Go</button>",
        )
        .await;
        assert!(none.is_empty(), "{none:#?}");
        for (style, main, wanted) in PLANTED {
            let all = found(browser, style, main).await;
            let missed: BTreeSet<_> = wanted
                .iter()
                .filter(|words| !all.iter().any(|fault| fault.contains(**words)))
                .collect();
            assert!(
                missed.is_empty(),
                "{main}: {missed:?} is not among {all:#?}"
            );
        }
    })
    .await;
}
