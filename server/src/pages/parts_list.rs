//! The pages of the parts list: the builder's own parts beside the shipped ones, and its history.

use askama::Template;
use harness_core::edits::{Change, List, Whole, lists_of};
use harness_core::file_format::PartsRecord;
use harness_core::parts::{Origin, shipped};
use harness_core::tabular::entries;
use harness_core::units::UnitSystem;
use percent_encoding::{NON_ALPHANUMERIC, utf8_percent_encode};
use serde_json::Value;

use super::edit::capital;
use super::history::ChangeRow;
use super::{FieldFault, Frame};
use crate::history::Standing;
use crate::store::RevisionHead;

/// Parts shown at once.
const MOST_ROWS: usize = 500;
/// Fields that have a column or a place of their own.
const IN_COLUMNS: &[&str] = &["id", "name", "figure_from", "figure_source"];

/// A list with what it counts.
#[derive(Clone, Debug)]
struct ListRow {
    name: &'static str,
    words: String,
    one: String,
    about: String,
    own: usize,
    shipped: usize,
}

/// A part.
#[derive(Clone, Debug)]
struct PartRow {
    id: String,
    title: String,
    list: String,
    origin: &'static str,
    figures: String,
    figure_from: String,
    source: String,
    href: String,
    act: &'static str,
}

/// Parts of every list or of one, own and shipped.
#[derive(Debug, Template)]
#[template(path = "parts_list/list.html")]
pub struct PartsPage {
    frame: Frame,
    lists: Vec<ListRow>,
    /// The list shown; of all of them where none is chosen.
    list: Option<List>,
    find: String,
    rows: Vec<PartRow>,
    found: usize,
    all: usize,
    revision: i64,
}

impl PartsPage {
    /// The parts that hold the words of `find`, the first of them where they are many.
    pub fn new(head: &RevisionHead, own: &Whole, list: Option<List>, find: &str) -> Self {
        let shipped = Whole::of(shipped());
        let count = |whole: &Whole, list: &List| whole.things(list.name).len();
        let lists: Vec<List> = lists_of(PartsRecord::FORM).collect();
        let rows = lists.iter().map(|list| ListRow {
            name: list.name,
            words: capital(&list.words()),
            one: list.one(),
            about: list.about.trim().to_owned(),
            own: count(own, list),
            shipped: count(&shipped, list),
        });
        let wanted: Vec<String> = find
            .to_lowercase()
            .split_whitespace()
            .map(str::to_owned)
            .collect();
        let mut parts = Vec::new();
        let mut all = 0;
        let asked = lists.iter().filter(|one| {
            let chosen = list.as_ref();
            chosen.is_none_or(|list| list.name == one.name)
        });
        for list in asked {
            for (whole, origin) in [(own, Origin::Own), (&shipped, Origin::Shipped)] {
                for (id, thing) in whole.things(list.name) {
                    all += 1;
                    let row = row(list, origin, id, thing);
                    let text = format!(
                        "{} {} {} {} {} {}",
                        row.id, row.title, row.list, row.figures, row.figure_from, row.source
                    );
                    let text = text.to_lowercase();
                    if wanted.iter().all(|word| text.contains(word)) {
                        parts.push(row);
                    }
                }
            }
        }
        let found = parts.len();
        parts.truncate(MOST_ROWS);
        let frame = match &list {
            Some(list) => Frame::new(format!("Parts list: {}", list.words()))
                .at("/parts")
                .under("Parts list", "/parts"),
            None => Frame::new("Parts list").at("/parts"),
        };
        Self {
            frame,
            lists: rows.collect(),
            list,
            find: find.to_owned(),
            rows: parts,
            found,
            all,
            revision: head.number,
        }
    }
}

fn row(list: &List, origin: Origin, id: &str, thing: &Value) -> PartRow {
    let fields = thing.as_object().cloned().unwrap_or_default();
    let text = |field: &str| {
        let text = fields.get(field).and_then(Value::as_str);
        text.unwrap_or_default().to_owned()
    };
    let figures = entries(list.form)
        .into_iter()
        .filter(|entry| !IN_COLUMNS.contains(&entry.name().as_str()))
        .map(|entry| {
            (
                entry.label(UnitSystem::Si),
                entry.text(&fields, UnitSystem::Si),
            )
        })
        .filter(|(_, text)| !text.is_empty())
        .map(|(label, text)| match label.rsplit_once(", ") {
            Some((label, unit)) => format!("{} {text} {unit}", label.to_lowercase()),
            None => format!("{} {text}", label.to_lowercase()),
        });
    let number = utf8_percent_encode(id, NON_ALPHANUMERIC);
    let (field, act) = match origin {
        Origin::Own => ("id", "Change"),
        Origin::Shipped => ("part", "Copy"),
    };
    PartRow {
        title: text("name"),
        list: list.words(),
        origin: origin.words(),
        figures: figures.collect::<Vec<_>>().join("; "),
        figure_from: text("figure_from"),
        source: text("figure_source"),
        href: format!("/parts/{}/thing?{field}={number}", list.name),
        act,
        id: id.to_owned(),
    }
}

/// All revisions of the parts list.
#[derive(Debug, Template)]
#[template(path = "parts_list/revisions.html")]
pub struct PartsRevisionsPage {
    frame: Frame,
    revisions: Vec<RevisionHead>,
    standing: Standing,
    who: String,
    faults: Vec<FieldFault>,
}

impl PartsRevisionsPage {
    /// The revisions, newest first; `who` looks at them.
    pub fn new(revisions: Vec<RevisionHead>, standing: Standing, who: String) -> Self {
        let frame = Frame::new("Revisions of the parts list").at("/parts");
        Self {
            frame: frame.under("Parts list", "/parts"),
            revisions,
            standing,
            who,
            faults: Vec::new(),
        }
    }

    fn latest(&self) -> i64 {
        self.revisions.first().map_or(0, |head| head.number)
    }
}

/// What one revision of the parts list changed.
#[derive(Debug, Template)]
#[template(path = "parts_list/revision.html")]
pub struct PartsRevisionPage {
    frame: Frame,
    head: RevisionHead,
    latest: i64,
    changes: Vec<ChangeRow>,
    who: String,
}

impl PartsRevisionPage {
    /// Revision `head` of the parts list whose latest revision is `latest`, with its changes.
    pub fn new(head: RevisionHead, latest: i64, changes: &[Change], who: String) -> Self {
        let frame = Frame::new(format!("Revision {} of the parts list", head.number));
        let frame = frame.at("/parts").under("Parts list", "/parts");
        Self {
            frame: frame.under("Revisions", "/parts/revisions"),
            head,
            latest,
            changes: changes.iter().map(ChangeRow::from).collect(),
            who,
        }
    }
}
