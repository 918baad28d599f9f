//! The pages on which a boat model is changed.

use std::collections::{BTreeMap, BTreeSet};

use askama::Template;
use harness_core::edits::{Clash, Key, List, SETTINGS, Whole, lists, lists_of};
use harness_core::effect::Effect;
use harness_core::file_format::PartsRecord;
use harness_core::file_format::form::{Form, Kind, Shape};
use harness_core::tabular::{Choices, Entry, entries};
use harness_core::units::UnitSystem;
use serde_json::{Map, Value};

use super::effect::EffectWords;
use super::{FieldFault, Frame};
use crate::shown::one_spelling;
use crate::store::RevisionHead;
use crate::studies::AskedBoat;
use crate::view::Addresses;

/// Things shown of one list at once.
const MOST_ROWS: usize = 500;
/// Columns shown besides the short name.
const MOST_COLUMNS: usize = 7;

fn addresses(head: &RevisionHead) -> Addresses {
    Addresses::new(head.model_id.clone(), AskedBoat::Every)
}

/// A list in the list of lists.
#[derive(Clone, Debug)]
struct ListRow {
    words: String,
    about: String,
    count: usize,
    href: String,
    add: String,
    thing: String,
}

/// Every list of a boat model.
#[derive(Debug, Template)]
#[template(path = "edit/lists.html")]
pub struct EditListsPage {
    frame: Frame,
    model_href: String,
    revisions_href: String,
    add_option_href: String,
    plan_href: String,
    spreadsheet_href: String,
    parts_href: String,
    rows: Vec<ListRow>,
}

impl EditListsPage {
    /// The lists of a model at its latest revision.
    pub fn new(head: &RevisionHead, whole: &Whole) -> Self {
        let to = addresses(head);
        let row = |list: List| ListRow {
            words: capital(&list.words()),
            about: list.about.trim().to_owned(),
            count: whole.things(list.name).len(),
            href: to.to(&["edit", list.name]),
            // An option comes with its wiring.
            add: match list.name {
                "options" => to.to(&["options", "add"]),
                name => to.to(&["edit", name, "thing"]),
            },
            thing: list.one(),
        };
        Self {
            frame: Frame::new("Change the boat model").of_model(head, "edit"),
            model_href: to.to(&["edit", SETTINGS, "thing"]),
            revisions_href: to.to(&["revisions"]),
            add_option_href: to.to(&["options", "add"]),
            plan_href: to.to(&["edit", "plan"]),
            spreadsheet_href: to.to(&["spreadsheet"]),
            parts_href: to.to(&["parts"]),
            rows: lists().map(row).collect(),
        }
    }
}

pub(super) fn capital(words: &str) -> String {
    let mut letters = words.chars();
    let first = letters.next().map(|first| first.to_uppercase());
    first.into_iter().flatten().chain(letters).collect()
}

/// A thing in its list.
#[derive(Clone, Debug)]
struct ThingRow {
    name: String,
    href: String,
    cells: Vec<String>,
}

/// The things of one list.
#[derive(Debug, Template)]
#[template(path = "edit/list.html")]
pub struct EditListPage {
    frame: Frame,
    words: String,
    thing: String,
    add: String,
    find: String,
    headings: Vec<String>,
    rows: Vec<ThingRow>,
    all: usize,
    found: usize,
}

impl EditListPage {
    /// The things that hold the words of `find`, the first of them where they are many.
    pub fn new(
        head: &RevisionHead,
        whole: &Whole,
        list: &List,
        find: &str,
        units: UnitSystem,
    ) -> Self {
        let to = addresses(head);
        let columns = entries(list.form);
        let own = |thing: &Value| thing.as_object().cloned().unwrap_or_default();
        let things = whole.things(list.name);
        let wanted: Vec<String> = one_spelling(&find.to_lowercase())
            .split_whitespace()
            .map(str::to_owned)
            .collect();
        let mut found: Vec<(&String, Map<String, Value>, Vec<String>)> = Vec::new();
        for (id, thing) in things {
            let thing = own(thing);
            let texts: Vec<String> = columns
                .iter()
                .map(|column| column.text(&thing, units))
                .collect();
            let all = one_spelling(&texts.join(" ").to_lowercase()).into_owned();
            if wanted.iter().all(|word| all.contains(word)) {
                found.push((id, thing, texts));
            }
        }
        // The columns that most things state, in reading order.
        let mut stated: Vec<(usize, usize)> = (0..columns.len())
            .filter(|at| columns[*at].name() != "id")
            .map(|at| {
                (
                    at,
                    found
                        .iter()
                        .filter(|(.., texts)| !texts[at].is_empty())
                        .count(),
                )
            })
            .filter(|(_, times)| *times > 0)
            .collect();
        stated.sort_by_key(|(at, times)| (std::cmp::Reverse(*times), *at));
        stated.truncate(MOST_COLUMNS);
        let shown: BTreeSet<usize> = stated.into_iter().map(|(at, _)| at).collect();
        let count = found.len();
        let rows = found
            .into_iter()
            .take(MOST_ROWS)
            .map(|(id, _, texts)| ThingRow {
                name: match list.kinds.is_empty() {
                    true => list.thing(),
                    false => id.clone(),
                },
                href: to.with(&["edit", list.name, "thing"], &[("id", id)]),
                cells: shown.iter().map(|at| texts[*at].clone()).collect(),
            });
        let frame = Frame::new(capital(&list.words())).of_model(head, "edit");
        Self {
            rows: rows.collect(),
            frame: frame.under("Change the boat model", to.to(&["edit"])),
            words: list.words(),
            thing: list.one(),
            add: to.to(&["edit", list.name, "thing"]),
            find: find.to_owned(),
            headings: shown.iter().map(|at| columns[*at].label(units)).collect(),
            all: things.len(),
            found: count,
        }
    }
}

/// One field of a form.
#[derive(Clone, Debug)]
struct FieldRow {
    name: String,
    label: String,
    hint: String,
    text: String,
    /// Words to choose from; none where anything may be typed.
    words: Vec<&'static str>,
    /// Name of the list of suggestions; empty without one.
    suggestions: String,
    is_decimal: bool,
    is_stated: bool,
}

/// A field on which two people differ.
#[derive(Clone, Debug)]
struct Differing {
    label: String,
    before: String,
    mine: String,
    theirs: String,
}

/// What stands in a form.
#[derive(Clone, Debug, Default)]
pub struct Filled {
    /// Revision the form was filled from.
    pub seen: i64,
    /// Short name the thing had; empty for a new one.
    pub key: String,
    /// Units of the bare numbers in the fields.
    pub units: UnitSystem,
    /// What stands in the fields, by name.
    pub texts: BTreeMap<String, String>,
    /// Who edits.
    pub who: String,
    /// Why.
    pub reason: String,
    /// What is wrong.
    pub faults: Vec<FieldFault>,
}

/// The form of one thing.
#[derive(Debug, Template)]
#[template(path = "edit/thing.html")]
pub struct ThingPage {
    frame: Frame,
    form: &'static Form,
    filled: Filled,
    thing: String,
    /// The same with its article.
    one: String,
    is_model: bool,
    /// Whether it is a thing of the parts list, which is on no boat.
    is_part: bool,
    /// Parts whose figures can be taken: number and title.
    parts: Vec<(String, String)>,
    /// The part whose figures stand in the form: number and which list it is of.
    taken: Option<(String, &'static str)>,
    back: String,
    remove: String,
    suggestions: BTreeMap<String, Vec<String>>,
    stated: Vec<FieldRow>,
    others: Vec<FieldRow>,
    differing: Vec<Differing>,
    their_revision: i64,
    their_name: String,
    /// Address of the form itself.
    action: String,
    effect: Option<EffectWords>,
}

impl ThingPage {
    /// The form of a thing of this list, or of the model as a whole: what is required or stated
    /// comes first.
    pub fn of(
        head: &RevisionHead,
        whole: &Whole,
        list: Option<&List>,
        form: &'static Form,
        filled: Filled,
    ) -> Self {
        let to = addresses(head);
        let frame = Frame::new("").of_model(head, "edit");
        let frame = frame.under("Change the boat model", to.to(&["edit"]));
        let (frame, back) = match list {
            Some(list) => {
                let back = to.to(&["edit", list.name]);
                (frame.under(capital(&list.words()), back.clone()), back)
            }
            None => (frame, to.to(&["edit"])),
        };
        let place = to.to(&["edit", list.map_or(SETTINGS, |list| list.name)]);
        Self::at(frame, back, &place, whole, list, form, filled)
    }

    /// The form of a part of the parts list.
    pub fn of_part(whole: &Whole, list: &List, filled: Filled) -> Self {
        let back = format!("/parts/{}", list.name);
        let frame = Frame::new("").at("/parts").under("Parts list", "/parts");
        let frame = frame.under(capital(&list.words()), back.clone());
        let place = back.clone();
        let mut page = Self::at(frame, back, &place, whole, Some(list), list.form, filled);
        page.is_part = true;
        page
    }

    /// The form under `place`, the address of its list.
    fn at(
        frame: Frame,
        back: String,
        place: &str,
        whole: &Whole,
        list: Option<&List>,
        form: &'static Form,
        filled: Filled,
    ) -> Self {
        let mut suggestions = BTreeMap::new();
        for entry in entries(form) {
            if let Choices::Things(kind) = entry.choices() {
                suggestions
                    .entry(kind.words().replace([' ', ','], "-"))
                    .or_insert_with(|| names_of(whole, kind));
            }
        }
        let page = Self {
            frame,
            form,
            filled,
            thing: list.map_or_else(|| "boat model".to_owned(), List::thing),
            one: list.map_or_else(String::new, List::one),
            is_model: list.is_none(),
            is_part: false,
            parts: Vec::new(),
            taken: None,
            back,
            remove: format!("{place}/remove"),
            suggestions,
            stated: Vec::new(),
            others: Vec::new(),
            differing: Vec::new(),
            their_revision: 0,
            their_name: String::new(),
            effect: None,
            action: format!("{place}/thing"),
        };
        page.laid_out()
    }

    fn laid_out(mut self) -> Self {
        let has_id = self.form.field("id").is_some();
        self.frame.title = match (self.is_model, self.filled.key.is_empty(), has_id) {
            (true, ..) => "Name and settings of the boat model".to_owned(),
            (_, true, _) => format!("Add {}", self.one),
            (_, false, true) => format!("Change {} {}", self.thing, self.filled.key),
            (_, false, false) => format!("Change this {}", self.thing),
        };
        self.frame.is_form_again = !self.filled.faults.is_empty();
        for entry in entries(self.form) {
            // Lists of the model have pages of their own; its format is not a person's choice.
            let listed = matches!(entry.field().shape, Shape::List(Shape::Record(_), _));
            if self.is_model && (listed || entry.name() == "format_version") {
                continue;
            }
            let row = self.row(&entry);
            let faulty = FieldFault::any(&self.filled.faults, &row.name);
            if row.is_stated || entry.is_required() || faulty || self.is_first(&entry) {
                self.stated.push(row);
            } else {
                self.others.push(row);
            }
        }
        // A fault always stands at a field that is on the page.
        let names: BTreeSet<String> = self.stated.iter().map(|row| row.name.clone()).collect();
        for fault in &mut self.filled.faults {
            let known =
                names.contains(&fault.field) || ["who", "reason"].contains(&fault.field.as_str());
            if !known {
                "fields".clone_into(&mut fault.field);
            }
        }
        self
    }

    /// Of a new thing the first fields are asked, whatever they are.
    fn is_first(&self, entry: &Entry) -> bool {
        self.filled.key.is_empty()
            && self
                .form
                .fields
                .iter()
                .take(6)
                .any(|field| field.name == entry.name())
    }

    fn row(&self, entry: &Entry) -> FieldRow {
        let name = entry.name();
        let text = self.filled.texts.get(&name).cloned().unwrap_or_default();
        let choices = entry.choices();
        let about = entry.about().replace('`', "");
        let hint = match (choices, entry.field().shape) {
            (Choices::Typed, Shape::Text)
            | (Choices::Words(_) | Choices::YesNo | Choices::Things(_), _) => about,
            _ => format!(
                "{about} Accepted: {}.",
                entry.accepted().trim_end_matches('.')
            ),
        };
        FieldRow {
            label: match entry.is_required() {
                true => entry.label(self.filled.units),
                false => format!("{} (optional)", entry.label(self.filled.units)),
            },
            hint,
            words: match choices {
                Choices::Words(words) => words.to_vec(),
                Choices::YesNo => vec!["yes", "no"],
                _ => Vec::new(),
            },
            suggestions: match choices {
                Choices::Things(kind) => kind.words().replace([' ', ','], "-"),
                _ => String::new(),
            },
            is_decimal: matches!(entry.field().shape, Shape::Number(bounds) if bounds.min >= 0.0),
            is_stated: !text.is_empty(),
            name,
            text,
        }
    }

    /// Offers the parts whose figures can be taken; those of `taken` stand in the form.
    pub fn offer(&mut self, parts: Vec<(String, String)>, taken: Option<(String, &'static str)>) {
        self.parts = parts;
        self.taken = taken;
    }

    /// Shows what saving the form would do.
    pub fn show(&mut self, effect: &Effect, list: &PartsRecord) {
        self.effect = Some(EffectWords::of(effect, list));
    }

    /// Shows both versions of what two people changed; what is in the form then counts on top of
    /// the other's.
    pub fn clash(&mut self, latest: &RevisionHead, form: &'static Form, clashes: &[Clash]) {
        self.filled.seen = latest.number;
        self.their_revision = latest.number;
        self.their_name.clone_from(&latest.who);
        self.frame.is_form_again = true;
        let units = self.filled.units;
        let none = Map::new();
        for clash in clashes {
            let [before, mine, theirs] = [&clash.base, &clash.mine, &clash.theirs]
                .map(|side| side.as_ref().and_then(Value::as_object));
            if theirs.is_none() {
                self.differing.push(Differing {
                    label: clash.key.words(),
                    before: "there".to_owned(),
                    mine: "changed".to_owned(),
                    theirs: "removed".to_owned(),
                });
                continue;
            }
            for entry in entries(form) {
                let [before, mine, theirs] =
                    [before, mine, theirs].map(|side| entry.text(side.unwrap_or(&none), units));
                if mine != theirs {
                    self.differing.push(Differing {
                        label: entry.label(units),
                        before,
                        mine,
                        theirs,
                    });
                }
            }
        }
    }
}

/// The short names of one kind.
fn names_of(whole: &Whole, kind: Kind) -> Vec<String> {
    let of_kind = lists_of(whole.form()).filter(|list| list.kinds.contains(&kind));
    let names = of_kind.flat_map(|list| whole.things(list.name).iter().map(|(id, _)| id.clone()));
    names.collect()
}

/// The question before a thing is removed.
#[derive(Debug, Template)]
#[template(path = "edit/remove.html")]
pub struct RemovePage {
    frame: Frame,
    thing: String,
    key: String,
    seen: i64,
    who: String,
    back: String,
    /// Things that speak of it, with where they are changed.
    spoken: Vec<(String, String)>,
    faults: Vec<FieldFault>,
}

impl RemovePage {
    /// Asks about this thing.
    pub fn new(head: &RevisionHead, list: &List, key: String, who: String, spoken: &[Key]) -> Self {
        let to = addresses(head);
        let frame = Frame::new(Self::title(list, &key)).of_model(head, "edit");
        let frame = frame.under("Change the boat model", to.to(&["edit"]));
        let back = to.to(&["edit", list.name]);
        let spoken = spoken.iter().map(|key| {
            let href = to.with(&["edit", key.list, "thing"], &[("id", &key.id)]);
            (key.words(), href)
        });
        let spoken = spoken.collect();
        Self::at(frame, back, head.number, list, key, who, spoken)
    }

    /// Asks about this part of the parts list at revision `seen`.
    pub fn of_part(seen: i64, list: &List, key: String, who: String, spoken: &[Key]) -> Self {
        let frame = Frame::new(Self::title(list, &key)).at("/parts");
        let frame = frame.under("Parts list", "/parts");
        let spoken = spoken.iter().map(|key| {
            let id =
                percent_encoding::utf8_percent_encode(&key.id, percent_encoding::NON_ALPHANUMERIC);
            let href = format!("/parts/{}/thing?id={id}", key.list);
            (key.words(), href)
        });
        let back = format!("/parts/{}", list.name);
        let spoken = spoken.collect();
        Self::at(frame, back, seen, list, key, who, spoken)
    }

    fn title(list: &List, key: &str) -> String {
        match list.kinds.is_empty() {
            true => format!("Remove this {}?", list.thing()),
            false => format!("Remove {} {key}?", list.thing()),
        }
    }

    fn at(
        frame: Frame,
        back: String,
        seen: i64,
        list: &List,
        key: String,
        who: String,
        spoken: Vec<(String, String)>,
    ) -> Self {
        let thing = match list.kinds.is_empty() {
            true => format!("this {}", list.thing()),
            false => format!("{} {key}", list.thing()),
        };
        Self {
            frame: frame.under(capital(&list.words()), back.clone()),
            seen,
            spoken,
            faults: Vec::new(),
            thing,
            key,
            who,
            back,
        }
    }
}
