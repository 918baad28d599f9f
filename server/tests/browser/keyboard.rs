//! Jobs done with the keyboard alone, and where the focus goes.

use fantoccini::key::Key;
use serde_json::{Value, json};

use crate::axe::equip;
use crate::browser::{Browser, Script, is_installed, with_browser};
use crate::service::Service;

/// More presses of Tab than any way to a control of these pages takes.
const FAR: usize = 400;

impl Browser {
    /// The element with the focus, as an expression over it gives it.
    async fn of_focus(&self, expression: &str) -> Value {
        let script = format!("const at = document.activeElement; return {expression}");
        self.run(&script).await
    }

    /// Presses Tab until the focus is on what the expression says; everything on the way must be
    /// seen when it has the focus.
    async fn tab_to(&self, expression: &str) {
        for _ in 0..FAR {
            self.press(&[Key::Tab]).await;
            self.focus_is_seen().await;
            if self.of_focus(expression).await == json!(true) {
                return;
            }
        }
        panic!("no {expression} on {}", self.address().await);
    }

    async fn focus_is_seen(&self) {
        let wrong = self
            .of_focus("at === document.body ? [] : checks.focused(at)")
            .await;
        assert_eq!(wrong, json!([]), "{}", self.address().await);
    }

    async fn tab_to_words(&self, words: &str) {
        self.tab_to(&format!(
            "at.matches('a, button, summary') && at.textContent.trim() === '{words}'"
        ))
        .await;
    }

    async fn tab_to_field(&self, id: &str) {
        self.tab_to(&format!("at.id === '{id}'")).await;
    }

    /// Follows the link or presses the button with these words.
    async fn enter(&self, words: &str) {
        self.tab_to_words(words).await;
        self.leave(async || self.press(&[Key::Enter]).await).await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn an_option_is_added_by_keyboard() {
    if !is_installed() {
        return;
    }
    let service = Service::new().await;
    with_browser(Script::On, async |browser| {
        equip(browser).await;
        browser.size(1280, 900).await;
        browser.open(&service.at("/")).await;
        browser.enter("Launch 92").await;
        browser.enter("Options").await;
        browser.enter("Add an option").await;
        browser.tab_to_field("name").await;
        browser.type_text("Deck light, bow").await;
        browser.tab_to_field("draws").await;
        browser.type_text("3 A at 12 V").await;
        browser.tab_to_field("states").await;
        browser.press(&[Key::Down, Key::Down]).await;
        browser.tab_to_field("point").await;
        browser.press(&[Key::Down]).await;
        while browser.value("#point").await != "bow-light" {
            let before = browser.value("#point").await;
            browser.press(&[Key::Down]).await;
            assert_ne!(
                browser.value("#point").await,
                before,
                "the list ends without bow-light"
            );
        }
        browser.enter("Propose the wiring").await;
        browser
            .tab_to("at.localName === 'summary' && at.closest('main') !== null")
            .await;
        browser.press(&[Key::Space]).await;
        assert_eq!(browser.of_focus("at.parentElement.open").await, json!(true));
        browser.tab_to_field("who").await;
        browser.type_text("A. Rigger").await;
        browser.enter("Add the option").await;
        let text = browser.text().await;
        assert!(
            text.contains("Revision 2") && text.contains("Deck light, bow"),
            "{text}"
        );
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_wire_is_changed_by_keyboard() {
    if !is_installed() {
        return;
    }
    let service = Service::new().await;
    with_browser(Script::On, async |browser| {
        equip(browser).await;
        browser.size(820, 1180).await;
        browser.open(&service.at("/models/launch-92")).await;
        browser.enter("Change").await;
        browser.enter("Wires").await;
        browser.tab_to_field("find").await;
        browser.type_text("40-F4").await;
        browser
            .leave(async || browser.press(&[Key::Enter]).await)
            .await;
        browser.enter("40-F4").await;
        browser.tab_to_field("size").await;
        browser.type_text("enormous").await;
        browser.enter("Save as a revision").await;

        // The summary has the focus; its first link leads to the field.
        assert_eq!(browser.of_focus("at.className").await, "summary");
        browser.press(&[Key::Tab, Key::Enter]).await;
        assert_eq!(browser.of_focus("at.id").await, "size");
        browser.focus_is_seen().await;
        // Coming back to a field selects what it holds, so that typing replaces it.
        browser.press(&[Key::Tab]).await;
        browser.back_tab().await;
        assert_eq!(browser.of_focus("at.id").await, "size");
        browser.type_text("12 AWG").await;
        browser.enter("Save as a revision").await;
        assert_eq!(browser.address().await, "/models/launch-92/revisions/2");
        assert!(browser.text().await.contains("12 AWG"));
    })
    .await;
}

/// Elements that the Tab key should reach, in order.
const REACHED: &str = "return [...document.querySelectorAll(\"a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex='0']\")].filter((at) => at.checkVisibility() && !at.disabled && at.tabIndex >= 0).length";

#[tokio::test(flavor = "multi_thread")]
async fn tab_goes_through_a_whole_page_and_back() {
    if !is_installed() {
        return;
    }
    let service = Service::new().await;
    with_browser(Script::On, async |browser| {
        equip(browser).await;
        browser.size(768, 1024).await;
        for page in [
            "/models",
            "/models/launch-92/failing",
            "/models/launch-92/options/add",
            "/models/launch-92/zones/helm",
        ] {
            browser.open(&service.at(page)).await;
            let there = usize::try_from(browser.run(REACHED).await.as_u64().unwrap()).unwrap();
            let mut reached = 0;
            loop {
                browser.press(&[Key::Tab]).await;
                if browser.of_focus("at === document.body").await == json!(true) {
                    break;
                }
                reached += 1;
                assert!(reached <= there, "{page}: Tab never leaves the page");
                browser.focus_is_seen().await;
                if reached == 1 {
                    assert_eq!(browser.of_focus("at.className").await, "skip", "{page}");
                }
            }
            assert_eq!(reached, there, "{page}");
            browser.back_tab().await;
            browser.focus_is_seen().await;
        }
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_skip_link_leads_past_the_bar() {
    if !is_installed() {
        return;
    }
    let service = Service::new().await;
    with_browser(Script::Off, async |browser| {
        browser
            .open(&service.at("/models/launch-92/circuits"))
            .await;
        browser.press(&[Key::Tab]).await;
        assert_eq!(browser.of_focus("at.className").await, "skip");
        assert!(browser.find(".skip").await.rectangle().await.unwrap().1 >= 0.0);
        browser.press(&[Key::Enter]).await;
        browser.press(&[Key::Tab]).await;
        let is_in_main = "document.querySelector('main').contains(at)";
        assert_eq!(browser.of_focus(is_in_main).await, json!(true));
    })
    .await;
}
