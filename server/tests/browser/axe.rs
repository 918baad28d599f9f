//! A page held against the accessibility rules of axe-core and our own checks.

use std::fmt::Write as _;
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};

use serde_json::{Value, json};

use crate::browser::Browser;
use crate::cleared::CLEARED;

/// Where npm puts it.
pub const FILE: &str = "tests/browser/node_modules/axe-core/axe.min.js";
/// Our own checks.
const CHECKS: &str = include_str!("checks.js");
/// Rule sets asked for by name: the plain run of axe-core leaves the size of targets out.
const TAGS: &[&str] = &[
    "wcag2a",
    "wcag2aa",
    "wcag21a",
    "wcag21aa",
    "wcag22aa",
    "best-practice",
];
/// Least size of a target: success criterion 2.5.8.
const LEAST_TARGET: u32 = 24;
/// Least size on pages that are used standing, with gloves: success criterion 2.5.5.
const LEAST_ON_THE_FLOOR: u32 = 44;

/// What was found so far.
#[derive(Debug, Default)]
pub struct Tally {
    /// Runs of axe-core.
    pub runs: AtomicUsize,
    /// Pages in one state each.
    pub pages: AtomicUsize,
}

/// Has axe-core and our checks at hand on every page opened from now on.
pub async fn equip(browser: &Browser) {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join(FILE);
    let axe = std::fs::read_to_string(file).unwrap();
    for source in [axe.as_str(), CHECKS] {
        let params = json!({ "source": source });
        browser
            .tools("Page.addScriptToEvaluateOnNewDocument", params)
            .await;
    }
}

/// What axe-core is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Asked {
    /// Every rule but contrast, of the page as it is.
    AsItIs,
    /// Contrast, with nothing lying over anything by being scrolled: colors do not depend on it.
    Contrast,
}

/// What axe-core finds on the page shown.
async fn faults(browser: &Browser, asked: Asked) -> Vec<String> {
    let flat = asked == Asked::Contrast;
    let options = match asked {
        Asked::AsItIs => json!({
            "runOnly": { "type": "tag", "values": TAGS },
            "rules": { "color-contrast": { "enabled": false } },
        }),
        Asked::Contrast => json!({ "runOnly": { "type": "rule", "values": ["color-contrast"] } }),
    };
    let script = "const [options, flat, done] = arguments;
        checks.flat(flat);
        axe.run(document, { resultTypes: ['violations', 'incomplete'], ...options })
            .catch((fault) => ({ broken: String(fault) }))
            .then((found) => { checks.flat(false); done(found); });";
    let found = browser
        .client
        .execute_async(script, vec![options, json!(flat)])
        .await
        .unwrap();
    assert!(found.get("broken").is_none(), "{found}");
    let mut faults = Vec::new();
    for (kind, is_open) in [("violations", false), ("incomplete", true)] {
        for result in found[kind].as_array().unwrap() {
            let rule = result["id"].as_str().unwrap();
            for node in result["nodes"].as_array().unwrap() {
                let html = node["html"].as_str().unwrap();
                if !is_open || !is_cleared(rule, html, node) {
                    faults.push(told(kind, rule, node));
                }
            }
        }
    }
    faults
}

fn is_cleared(rule: &str, html: &str, node: &Value) -> bool {
    CLEARED.iter().any(|cleared| {
        cleared.rule == rule
            && html.contains(cleared.html)
            && node.to_string().contains(cleared.says)
    })
}

fn told(kind: &str, rule: &str, node: &Value) -> String {
    let html: String = node["html"].as_str().unwrap().chars().take(160).collect();
    let mut text = format!("{kind}: {rule} at {}: {html}", node["target"]);
    for list in ["any", "all", "none"] {
        for check in node[list].as_array().into_iter().flatten() {
            let _ = write!(text, " | {}", check["message"].as_str().unwrap_or_default());
        }
    }
    text
}

async fn ask(browser: &Browser, question: &str) -> Vec<String> {
    let told = browser.run(&format!("return checks.{question}")).await;
    let told = told.as_array().unwrap().iter();
    told.map(|words| words.as_str().unwrap().to_owned())
        .collect()
}

/// Everything that is wrong with the page shown, at both widths, on both grounds.
pub async fn everything(browser: &Browser, tally: &Tally) -> Vec<String> {
    let mut all = Vec::new();
    let mut add = |at: &str, faults: Vec<String>| {
        all.extend(faults.into_iter().map(|fault| format!("{at}: {fault}")));
    };
    tally.pages.fetch_add(1, Ordering::Relaxed);
    browser.run("checks.openAll()").await;
    for width in [1280, 768] {
        let at = format!("{width} px");
        browser.size(width, 1024).await;
        add(&at, faults(browser, Asked::AsItIs).await);
        add(&at, ask(browser, "sideways()").await);
        add(&at, ask(browser, &format!("targets({LEAST_TARGET})")).await);
        if browser.has(".shop").await {
            let least = format!("targets({LEAST_ON_THE_FLOOR})");
            add(&at, ask(browser, &least).await);
        }
        browser.run("checks.space(true)").await;
        add(&format!("{at}, spaced"), ask(browser, "sideways()").await);
        add(&format!("{at}, spaced"), ask(browser, "lost()").await);
        browser.run("checks.space(false)").await;
        tally.runs.fetch_add(1, Ordering::Relaxed);
    }
    add("768 px", ask(browser, "focus()").await);
    browser.size(320, 640).await;
    add("320 px", ask(browser, "sideways()").await);
    browser.size(1280, 1024).await;
    for scheme in ["dark", "light"] {
        browser.scheme(scheme).await;
        add(scheme, faults(browser, Asked::Contrast).await);
        add(scheme, ask(browser, "pale()").await);
        add(scheme, ask(browser, "faint()").await);
        tally.runs.fetch_add(1, Ordering::Relaxed);
    }
    all
}
