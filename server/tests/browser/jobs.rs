//! Whole jobs from an empty service on, as a new user does them: with script and without.

use std::collections::BTreeSet;

use harness_core::model::Behavior;
use rust_xlsxwriter::Workbook;

use crate::browser::{Browser, Script, is_installed, with_browser};
use crate::service::Service;

/// Most controls that adding an option with its wiring may ask for (goal of the project).
const MOST_INPUTS: u64 = 12;

/// Does a job in a browser with script and in one without.
async fn both_ways(job: impl AsyncFn(&Service, &Browser)) {
    if !is_installed() {
        return;
    }
    for script in [Script::On, Script::Off] {
        let service = Service::new().await;
        with_browser(script, async |browser| {
            browser.open(&service.at("/verification")).await;
            // Headings to sort by are made by script.
            assert_eq!(browser.has("th button").await, script == Script::On);
            job(&service, browser).await;
            let complaints = browser.complaints(&[409, 422]).await;
            assert!(complaints.is_empty(), "{script:?}: {complaints:#?}");
        })
        .await;
    }
}

/// Controls of a form that a person sees, folded ones too; several buttons for one answer count as
/// what they are.
async fn controls(browser: &Browser, form: &str) -> u64 {
    let count = format!(
        "return document.querySelector(\"{form}\").querySelectorAll('input:not([type=hidden]), select, textarea').length"
    );
    browser.run(&count).await.as_u64().unwrap()
}

/// Number at the start of the first sentence of the page of failing limits.
async fn failing(browser: &Browser) -> u64 {
    let lead = browser.find("main .lead").await.text().await.unwrap();
    let number = lead.split(' ').next().unwrap();
    number.parse().unwrap_or_else(|_| panic!("{lead}"))
}

/// The form has come back: title, summary with the focus, which leads to the field that is wrong.
async fn is_back_at(browser: &Browser, field: &str) {
    let title = browser.client.title().await.unwrap();
    assert!(
        title.starts_with("Error: "),
        "{title}: {}",
        browser.text().await
    );
    let focus = "return document.activeElement.className";
    assert_eq!(
        browser.run(focus).await,
        "summary",
        "the summary has no focus"
    );
    let link = browser.find(&format!(".summary a[href='#{field}']")).await;
    let words = link.text().await.unwrap();
    let beside = browser
        .find(&format!("#{field}-fault"))
        .await
        .text()
        .await
        .unwrap();
    assert!(
        beside.contains(&words),
        "summary: {words}; at the field: {beside}"
    );
    link.click().await.unwrap();
    let focus = "return document.activeElement.id";
    assert_eq!(
        browser.run(focus).await,
        field,
        "the link leads to the field"
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn an_option_is_added_with_its_wiring() {
    both_ways(async |service, browser| {
        let mut pages = BTreeSet::new();
        browser.open(&service.at("/")).await;
        browser.choose("Launch 92").await;
        browser.page("Options").await;
        browser.choose("Add an option").await;
        pages.insert(browser.address().await);
        let asked = controls(browser, "main form").await;

        browser.fill("#name", "Deck light, bow").await;
        browser.fill("#draws", "plenty").await;
        browser.choose("Propose the wiring").await;
        is_back_at(browser, "draws").await;
        assert_eq!(browser.value("#name").await, "Deck light, bow");
        assert_eq!(browser.value("#draws").await, "plenty");
        assert!(browser.has(".summary a[href='#point']").await);

        browser.fill("#draws", "3 A at 12 V").await;
        browser.select("#point", "bow-light").await;
        browser.choose("Propose the wiring").await;
        pages.insert(
            browser
                .address()
                .await
                .split('?')
                .next()
                .unwrap()
                .to_owned()
                + "?",
        );
        let text = browser.text().await;
        for words in [
            "What is proposed, and why",
            "Fed from",
            "What it does to every boat",
        ] {
            assert!(text.contains(words), "{words}: {text}");
        }
        let accepting = controls(browser, "main form[method=post]").await;
        browser.fill("#who", "A. Rigger").await;
        browser.choose("Add the option").await;

        pages.insert(browser.address().await);
        let (title, text) = (browser.client.title().await.unwrap(), browser.text().await);
        assert!(
            title.contains("Deck light, bow") || text.contains("Deck light, bow"),
            "{text}"
        );
        assert!(
            text.contains("Revision 2") && text.contains("by A. Rigger"),
            "{text}"
        );
        let inputs = asked + accepting;
        println!(
            "{inputs} inputs, 3 of them filled in, on {} pages",
            pages.len()
        );
        assert!(inputs <= MOST_INPUTS, "{asked} and {accepting} inputs");
        assert_eq!(pages.len(), 3, "{pages:?}");

        // Its circuit, and the sheet on which the supplier finds it.
        let link = browser.find("#wiring a").await;
        browser.leave(async || link.click().await.unwrap()).await;
        let circuit = browser.address().await;
        assert!(circuit.contains("/circuits/"), "{circuit}");
        assert!(browser.text().await.contains("Deck light, bow"));
        browser.page("Sheets").await;
        browser.choose("Circuit list").await;
        assert!(browser.text().await.contains("Deck light, bow"));
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_wire_is_changed_its_failure_seen_and_the_change_undone_and_done_again() {
    both_ways(async |service, browser| {
        browser.open(&service.at("/models/launch-92")).await;
        browser.page("Circuits that fail").await;
        let before = failing(browser).await;
        browser.page("Change").await;
        browser.choose("Wires").await;
        browser.fill("#find", "20-F1").await;
        browser.choose("Show").await;
        browser.choose("20-F1").await;

        browser.fill("#size", "enormous").await;
        browser.choose("Save as a revision").await;
        is_back_at(browser, "size").await;
        assert_eq!(browser.value("#size").await, "enormous");
        browser.fill("#size", "8 AWG").await;
        browser.fill("#reason", "a lighter windlass").await;
        browser.choose("Save as a revision").await;
        assert_eq!(browser.address().await, "/models/launch-92/revisions/2");

        browser.page("Circuits that fail").await;
        let after = failing(browser).await;
        assert!(after > before, "{after} limits fail, {before} before");
        assert!(browser.text().await.contains("20-F1"));

        browser.page("Revisions").await;
        browser.choose("Undo: back to revision 1").await;
        browser.page("Circuits that fail").await;
        assert_eq!(failing(browser).await, before);
        browser.page("Revisions").await;
        browser.choose("Redo: forward to revision 2").await;
        browser.page("Circuits that fail").await;
        assert_eq!(failing(browser).await, after);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_second_of_two_who_change_the_same_is_shown_both_versions() {
    if !is_installed() {
        return;
    }
    let service = Service::new().await;
    let wire = service.at("/models/launch-92/edit/wires/thing?id=40-F4");
    with_browser(Script::On, async |first| {
        with_browser(Script::Off, async |second| {
            for (browser, size) in [(first, "12 AWG"), (second, "10 AWG")] {
                browser.open(&wire).await;
                browser.fill("#size", size).await;
                browser
                    .fill(
                        "#who",
                        if size == "12 AWG" {
                            "A. First"
                        } else {
                            "B. Second"
                        },
                    )
                    .await;
            }
            first.choose("Save as a revision").await;
            assert_eq!(first.address().await, "/models/launch-92/revisions/2");
            second.choose("Save as a revision").await;
            let clash = second.find(".summary").await.text().await.unwrap();
            for words in [
                "Somebody else changed this meanwhile",
                "A. First",
                "14 AWG",
                "12 AWG",
                "10 AWG",
            ] {
                assert!(clash.contains(words), "{words}: {clash}");
            }
            assert_eq!(second.value("#size").await, "10 AWG");
            assert_eq!(
                second.run("return document.activeElement.className").await,
                "summary"
            );
            let saved = service.store.latest("launch-92").await.unwrap();
            assert_eq!(saved.head.number, 2, "nothing of the second was stored");

            // Having seen both, the second may insist.
            second.choose("Save as a revision").await;
            assert_eq!(second.address().await, "/models/launch-92/revisions/3");
        })
        .await;
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_spreadsheet_is_told_its_bad_cells_and_taken_when_mended() {
    both_ways(async |service, browser| {
        browser
            .open(&service.at("/models/launch-92/revisions"))
            .await;
        browser.choose("Change by a spreadsheet").await;
        browser.choose("Show what would change").await;
        is_back_at(browser, "file").await;

        let bad = "id,Current (A)\nwindlass-control,lots\nhelm-compass,-\n";
        browser.choose_file("#file", "loads.csv", bad).await;
        browser.fill("#reason", "measured").await;
        browser.choose("Show what would change").await;
        let faults = browser.find("#cell-faults").await.text().await.unwrap();
        for words in ["loads", "B2", "lots"] {
            assert!(faults.contains(words), "{words}: {faults}");
        }
        assert_eq!(browser.value("#reason").await, "measured");

        let mended = "id,Current (A)\nwindlass-control,0.75\n";
        browser.choose_file("#file", "loads.csv", mended).await;
        browser.choose("Show what would change").await;
        let text = browser.text().await;
        assert!(
            text.contains("windlass-control") && text.contains("0.75"),
            "{text}"
        );
        browser.choose("Accept as revision 2").await;
        let saved = service.store.latest("launch-92").await.unwrap();
        assert_eq!(
            (saved.head.number, saved.head.reason.as_str()),
            (2, "measured")
        );
    })
    .await;
}

/// A workbook with one sheet *loads*.
fn loads(rows: &[[&str; 2]]) -> Vec<u8> {
    let mut workbook = Workbook::new();
    let sheet = workbook.add_worksheet();
    sheet.set_name("loads").unwrap();
    for (row, cells) in (0..).zip(rows) {
        for (column, text) in (0..).zip(cells) {
            match text.parse::<f64>() {
                Ok(number) => sheet.write_number(row, column, number).unwrap(),
                Err(_) => sheet.write_string(row, column, *text).unwrap(),
            };
        }
    }
    workbook.save_to_buffer().unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_workbook_is_told_its_bad_cells_and_taken_when_mended() {
    both_ways(async |service, browser| {
        browser
            .open(&service.at("/models/launch-92/spreadsheet"))
            .await;
        let bad = loads(&[["id", "Current (A)"], ["windlass-control", "lots"]]);
        browser.choose_file("#file", "bad.xlsx", bad).await;
        browser.fill("#reason", "measured").await;
        browser.choose("Show what would change").await;
        let faults = browser.find("#cell-faults").await.text().await.unwrap();
        for words in ["loads", "B2", "lots"] {
            assert!(faults.contains(words), "{words}: {faults}");
        }

        let mended = loads(&[["id", "Current (A)"], ["windlass-control", "0.75"]]);
        browser.choose_file("#file", "mended.xlsx", mended).await;
        browser.choose("Show what would change").await;
        browser.choose("Accept as revision 2").await;
        let saved = service.store.latest("launch-92").await.unwrap();
        let model = harness_core::file_format::read(&saved.body).unwrap();
        let control = model.loads.find("windlass-control").unwrap();
        let Some(Behavior::Current(amps)) = model.loads[control].behavior else {
            panic!("a current")
        };
        assert_eq!(amps.value(), 0.75);
    })
    .await;
}
