//! What a builder has written himself: names, notes and ids, which no setting rewrites.
//!
//! They stand alone in cells and in the middle of sentences, so they are known by their text. Only
//! those that a setting would change are looked for. A name that is nothing but one word or quantity
//! of the service (`Splice`, `25 mm`) cannot be told from it in a sentence: it is left alone only
//! where it stands by itself outside of labels, and a quantity only under `translate="no"`.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use aho_corasick::{AhoCorasick, Input, MatchKind};
use harness_core::file_format::form::{Field, Form, Shape};
use harness_core::file_format::{ModelRecord, PartsRecord};
use harness_core::units::UnitSystem;
use percent_encoding::percent_decode_str;
use serde_json::Value;

use super::{Setting, Sizes, Words, quantity, words};
use crate::parts_list;
use crate::store::{PARTS, Store, StoreError};

/// Fields whose text is in the words of the trade, not a name.
const OF_THE_TRADE: [&str; 1] = ["color"];
/// Most documents whose texts are kept; beyond it they are read anew.
const MOST_KEPT: usize = 64;

/// Texts of a document that some setting would change, as they stand in a page.
type Found = Arc<Vec<String>>;

/// A document, and the number of its revision; none for the latest.
type Document = (String, Option<i64>);

/// Where the texts of a page are looked up, with those found lately and the count of changes of the
/// store at which they were found.
#[derive(Clone, Debug)]
pub struct Texts {
    store: Store,
    found: Arc<Mutex<BTreeMap<Document, (u64, Found)>>>,
}

impl Texts {
    /// Of the documents of `store`.
    pub fn new(store: Store) -> Self {
        let found = Arc::default();
        Self { store, found }
    }

    /// What of the page at this path a builder may have written.
    ///
    /// # Errors
    /// Those of the store, but for documents that are not there.
    pub(super) async fn of_page(&self, path: &str) -> Result<Written, StoreError> {
        let store = &self.store;
        let path = percent_decode_str(path).decode_utf8_lossy();
        let segments: Vec<&str> = path.trim_start_matches('/').split('/').collect();
        let mut documents: Vec<Document> = Vec::new();
        let revision = |number: Option<&&str>| number.and_then(|number| number.parse().ok());
        match segments.as_slice() {
            ["models", id, rest @ ..] => {
                documents.push(((*id).to_owned(), None));
                if let ["revisions", ..] = rest {
                    let number: Option<i64> = revision(rest.get(1));
                    let both = number.into_iter().flat_map(|number| [number - 1, number]);
                    documents.extend(both.map(|number| ((*id).to_owned(), Some(number))));
                }
                documents.push((PARTS.to_owned(), None));
            }
            ["parts", rest @ ..] => {
                documents.push((PARTS.to_owned(), None));
                let number: Option<i64> = revision(rest.get(1));
                let both = number.into_iter().flat_map(|number| [number - 1, number]);
                documents.extend(both.map(|number| (PARTS.to_owned(), Some(number))));
            }
            ["" | "search" | "models", ..] => {
                let heads = store.models().await?;
                documents.extend(heads.into_iter().map(|head| (head.model_id, None)));
            }
            _ => {}
        }
        let mut all = Vec::new();
        for document in documents {
            all.extend(self.texts(document).await?.iter().cloned());
        }
        Ok(Written::of(all))
    }

    async fn texts(&self, document: Document) -> Result<Found, StoreError> {
        let store = &self.store;
        let changes = store.changes();
        let known = self.shelf().get(&document).cloned();
        if let Some((_, texts)) = known.filter(|(at, _)| *at == changes) {
            return Ok(texts);
        }
        let (id, number) = &document;
        let found = match (id.as_str(), number) {
            (PARTS, None) => parts_list::latest(store).await,
            (PARTS, Some(number)) => parts_list::revision(store, *number).await,
            (id, None) => store.latest(id).await,
            (id, Some(number)) => store.revision(id, *number).await,
        };
        let body = match found {
            Ok(revision) => revision.body,
            Err(StoreError::NoModel { .. } | StoreError::NoRevision { .. }) => String::new(),
            Err(fault) => return Err(fault),
        };
        let form = match id.as_str() {
            PARTS => PartsRecord::FORM,
            _ => ModelRecord::FORM,
        };
        let texts = Arc::new(texts_of(form, &body));
        let mut shelf = self.shelf();
        if shelf.len() >= MOST_KEPT {
            shelf.clear();
        }
        shelf.insert(document, (changes, texts.clone()));
        Ok(texts)
    }

    fn shelf(&self) -> MutexGuard<'_, BTreeMap<Document, (u64, Found)>> {
        self.found.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The texts of a saved document that some setting would change.
fn texts_of(form: &Form, body: &str) -> Vec<String> {
    let mut texts = Vec::new();
    if let Ok(value) = serde_json::from_str::<Value>(body) {
        in_record(form, &value, &mut texts);
    }
    texts.sort_unstable();
    texts.dedup();
    texts.retain(|text| is_changed(text));
    texts.iter().map(|text| escaped(text)).collect()
}

fn in_record(form: &Form, value: &Value, texts: &mut Vec<String>) {
    let own = |field: &&Field| !OF_THE_TRADE.contains(&field.name);
    for field in form.fields.iter().filter(own) {
        if let Some(value) = value.get(field.name) {
            in_value(&field.shape, value, texts);
        }
    }
}

fn in_value(shape: &Shape, value: &Value, texts: &mut Vec<String>) {
    match shape {
        Shape::Text | Shape::Id(_) => texts.extend(value.as_str().map(str::to_owned)),
        Shape::Record(form) => in_record(form, value, texts),
        Shape::List(item, _) => {
            for value in value.as_array().into_iter().flatten() {
                in_value(item, value, texts);
            }
        }
        _ => {}
    }
}

fn is_changed(text: &str) -> bool {
    let both = Setting {
        units: UnitSystem::Us,
        sizes: Sizes::Both,
        words: Words::Uk,
    };
    let si = Setting {
        units: UnitSystem::Si,
        ..both
    };
    words::told(text, Words::Uk) != text
        || [both, si]
            .into_iter()
            .any(|setting| quantity::told(text, setting, true) != text)
}

/// A text as a template writes it.
fn escaped(text: &str) -> String {
    let mut page = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => page.push_str("&#38;"),
            '<' => page.push_str("&#60;"),
            '>' => page.push_str("&#62;"),
            '"' => page.push_str("&#34;"),
            '\'' => page.push_str("&#39;"),
            letter => page.push(letter),
        }
    }
    page
}

/// What a builder has written, to be found in the texts of a page.
#[derive(Default)]
pub(super) struct Written {
    /// Those that are more than a word or quantity of the service.
    inside: Option<AhoCorasick>,
    /// Those that are one word of the service, left alone where they stand by themselves.
    alone: Vec<String>,
}

impl Written {
    fn of(texts: Vec<String>) -> Self {
        let (alone, inside): (Vec<String>, Vec<String>) = texts
            .into_iter()
            .filter(|text| !quantity::is_whole(text))
            .partition(|text| words::is_one(text));
        // Wires are printed with them in capitals. More than it can take are not looked for.
        let built = AhoCorasick::builder()
            .match_kind(MatchKind::LeftmostLongest)
            .ascii_case_insensitive(true)
            .build(&inside);
        Self {
            inside: built.ok().filter(|_| !inside.is_empty()),
            alone,
        }
    }

    /// A text with all told that no builder has written.
    pub(super) fn around(
        &self,
        text: &str,
        is_label: bool,
        told: impl Fn(&str) -> String,
    ) -> String {
        if !is_label && self.alone.iter().any(|name| name == text.trim()) {
            return text.to_owned();
        }
        let Some(inside) = &self.inside else {
            return told(text);
        };
        let mut page = String::new();
        let (mut done, mut from) = (0, 0);
        while let Some(found) = inside.find(Input::new(text).range(from..)) {
            let before = text[..found.start()].chars().next_back();
            let behind = text[found.end()..].chars().next();
            let is_part = |c: Option<char>| c.is_some_and(char::is_alphanumeric);
            if is_part(before) || is_part(behind) {
                let first = text[found.start()..].chars().next();
                from = found.start() + first.map_or(1, char::len_utf8);
                continue;
            }
            if found.start() > done {
                page.push_str(&told(&text[done..found.start()]));
            }
            page.push_str(&text[found.range()]);
            (done, from) = (found.end(), found.end());
        }
        if done < text.len() {
            page.push_str(&told(&text[done..]));
        }
        page
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(texts: &[&str], text: &str) -> String {
        let texts = texts.iter().map(|text| escaped(text)).collect();
        let shout = |text: &str| text.to_uppercase();
        Written::of(texts).around(text, false, shout)
    }

    #[test]
    fn names_stay_wherever_they_stand_and_parts_of_words_do_not() {
        let names = [
            "Panel color 25 mm",
            "Panel color",
            "color-1",
            "Splice",
            "25 mm",
        ];
        for (text, shown) in [
            ("a Panel color 25 mm here", "A Panel color 25 mm HERE"),
            ("printed panel COLOR", "PRINTED panel COLOR"),
            ("Panel color, panel", "Panel color, PANEL"),
            ("xPanel color", "XPANEL COLOR"),
            ("load &#34;color-1&#34;", "LOAD &#34;color-1&#34;"),
            (" Splice ", " Splice "),
            ("a Splice", "A SPLICE"),
            ("25 mm", "25 MM"),
        ] {
            assert_eq!(told(&names, text), shown);
        }
        assert_eq!(
            told(&["a <color>"], "a &#60;color&#62;"),
            "a &#60;color&#62;"
        );
    }

    #[test]
    fn texts_of_a_document_are_those_that_a_setting_changes() {
        let body = r#"{"name": "Boat 25 mm", "about": "plain", "wires": [{"id": "fuse-block",
            "color": "gray", "size": "12 AWG"}], "loads": [{"id": "a", "name": "12 AWG lamp"}]}"#;
        let texts = texts_of(ModelRecord::FORM, body);
        assert_eq!(texts, ["12 AWG lamp", "Boat 25 mm", "fuse-block"]);
    }
}
