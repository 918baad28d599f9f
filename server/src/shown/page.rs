//! The text of a page, without its tags, in a reader's units and words.

use std::cell::{Cell, RefCell};
use std::rc::Rc;

use harness_core::units::UnitSystem;
use lol_html::errors::RewritingError;
use lol_html::html_content::{ContentType, Element, TextChunk};
use lol_html::{HandlerResult, RewriteStrSettings, doc_text, element, end_tag, rewrite_str};

use super::written::Written;
use super::{Setting, Words, quantity, words};

/// Inside these nothing is changed.
const KEPT: &str = "[translate=no], code, pre, cite, textarea, script, style";
/// Inside these a unit may stand after a comma at the end: `Cut length, mm`.
const LABELS: &str = "th, label, dt, text, legend";
/// Attributes that are read out or shown.
const SAYING: &str = "[aria-label], [title], [placeholder], [label], [alt]";
const SAID: &[&str] = &["aria-label", "title", "placeholder", "label", "alt"];

/// How deep inside elements of each kind the text at hand is.
#[derive(Default)]
struct Inside {
    kept: Cell<u32>,
    as_stated: Cell<u32>,
    label: Cell<u32>,
    /// Exact quantity of the element at hand.
    exact: RefCell<Option<String>>,
    /// Beginning of a text that comes in pieces.
    begun: RefCell<String>,
    /// What a builder has written himself.
    written: Written,
}

/// A whole page as its reader reads it.
pub(super) fn told(
    page: &[u8],
    setting: Setting,
    written: Written,
) -> Result<String, RewritingError> {
    let page = String::from_utf8_lossy(page);
    let inside = Rc::new(Inside {
        written,
        ..Inside::default()
    });
    let deeper = |depth: fn(&Inside) -> &Cell<u32>| {
        let inside = inside.clone();
        move |element: &mut Element<'_, '_>| -> HandlerResult {
            if element.end_tag_handlers().is_none() {
                return Ok(());
            }
            depth(&inside).set(depth(&inside).get() + 1);
            let inside = inside.clone();
            element.on_end_tag(end_tag!(move |_| {
                depth(&inside).set(depth(&inside).get().saturating_sub(1));
                Ok(())
            }))
        }
    };
    let exact = |element: &mut Element<'_, '_>| -> HandlerResult {
        *inside.exact.borrow_mut() = element.get_attribute("data-quantity");
        let inside = inside.clone();
        element.on_end_tag(end_tag!(move |_| {
            inside.exact.borrow_mut().take();
            Ok(())
        }))
    };
    let said = |element: &mut Element<'_, '_>| -> HandlerResult {
        for name in SAID {
            if let Some(text) = element.get_attribute(name) {
                element.set_attribute(name, &inside.text(&text, setting))?;
            }
        }
        Ok(())
    };
    let own = |element: &mut Element<'_, '_>| -> HandlerResult {
        if setting.units == UnitSystem::Us {
            element.remove_attribute("hidden");
        }
        Ok(())
    };
    let language = |element: &mut Element<'_, '_>| -> HandlerResult {
        if setting.words == Words::Uk {
            element.set_attribute("lang", "en-GB")?;
        }
        Ok(())
    };
    let text = |chunk: &mut TextChunk<'_>| -> HandlerResult {
        inside.begun.borrow_mut().push_str(chunk.as_str());
        if chunk.last_in_text_node() {
            let whole = inside.begun.take();
            chunk.replace(&inside.text(&whole, setting), ContentType::Html);
        } else {
            chunk.remove();
        }
        Ok(())
    };
    let settings = RewriteStrSettings::new()
        .append_element_content_handler(element!(KEPT, deeper(|inside| &inside.kept)))
        .append_element_content_handler(element!(
            "[data-units=as-stated]",
            deeper(|inside| &inside.as_stated)
        ))
        .append_element_content_handler(element!(LABELS, deeper(|inside| &inside.label)))
        .append_element_content_handler(element!("[data-quantity]", exact))
        .append_element_content_handler(element!("[data-for=us]", own))
        .append_element_content_handler(element!("html", language))
        .append_element_content_handler(element!(SAYING, said))
        .append_document_content_handler(doc_text!(text));
    rewrite_str(&page, settings)
}

impl Inside {
    fn text(&self, text: &str, setting: Setting) -> String {
        if self.kept.get() > 0 || text.trim().is_empty() {
            return text.to_owned();
        }
        if let (0, UnitSystem::Us, Some(exact)) = (
            self.as_stated.get(),
            setting.units,
            self.exact.borrow().as_deref(),
        ) && let Some(number) = quantity::bare(exact, text)
        {
            return number;
        }
        let is_label = self.label.get() > 0;
        self.written.around(text, is_label, |text| {
            let words = words::told(text, setting.words);
            match self.as_stated.get() {
                0 => quantity::told(&words, setting, is_label).into_owned(),
                _ => words.into_owned(),
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use harness_core::units::UnitSystem;

    use super::*;
    use crate::shown::Sizes;

    const BOTH: Setting = Setting {
        units: UnitSystem::Us,
        sizes: Sizes::AsOrdered,
        words: Words::Uk,
    };

    fn one(page: &str) -> String {
        told(page.as_bytes(), BOTH, Written::default()).unwrap()
    }

    #[test]
    fn text_is_told_and_tags_are_not() {
        for (page, shown) in [
            (
                "<p class=\"color\">Color 25.4 mm &#38; more</p>",
                "<p class=\"color\">Colour 1 in &#38; more</p>",
            ),
            (
                "<input value=\"25.4 mm\"><textarea>25.4 mm</textarea>",
                "<input value=\"25.4 mm\"><textarea>25.4 mm</textarea>",
            ),
            ("<th>Bore, mm</th>", "<th>Bore, in</th>"),
            ("<p>Bore, mm</p>", "<p>Bore, mm</p>"),
            (
                "<td data-quantity=\"3.8104 m\">3.81</td><td>3.81</td>",
                "<td data-quantity=\"3.8104 m\">12.501</td><td>3.81</td>",
            ),
            (
                "<ol data-units=\"as-stated\"><li>25 mm of color</li></ol>25.4 mm",
                "<ol data-units=\"as-stated\"><li>25 mm of colour</li></ol>1 in",
            ),
            (
                "<b translate=\"no\">Color 25 mm<i>25 mm</i></b><code>color</code>",
                "<b translate=\"no\">Color 25 mm<i>25 mm</i></b><code>color</code>",
            ),
            (
                "<p data-for=\"us\" hidden>x</p>",
                "<p data-for=\"us\">x</p>",
            ),
            (
                "<p aria-label=\"Color, 25.4 mm\">x</p>",
                "<p aria-label=\"Colour, 1 in\">x</p>",
            ),
            (
                "<svg><text>25.4 mm</text><br><title>25.4 mm</title></svg>",
                "<svg><text>1 in</text><br><title>1 in</title></svg>",
            ),
            ("<html lang=\"en\">", "<html lang=\"en-GB\">"),
        ] {
            assert_eq!(one(page), shown);
        }
    }

    #[test]
    fn a_long_text_is_one_text() {
        let text = format!("<p>{}25.4 mm</p>", "é ".repeat(40_000));
        assert!(one(&text).ends_with("é 1 in</p>"));
    }
}
