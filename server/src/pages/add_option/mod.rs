//! Adding an optional component: what is asked, what is proposed, what it does to every boat.

mod reading;

use askama::Template;
use harness_core::adding::{Proposal, propose};
use harness_core::effect::Effect;
use harness_core::file_format::records::LoadPartRecord;
use harness_core::file_format::{self, PartsRecord};
use harness_core::model::{BoatModel, DropClass, Identified};
use harness_core::parts::shipped;
use harness_core::study::{BoatChoice, Study};

use super::drawing::{Chosen, Links, Places};
use super::effect::EffectWords;
use super::{FieldFault, Frame};
use crate::error::{Error, Fault};
use crate::store::RevisionHead;
use crate::studies::AskedBoat;
use crate::view::View;
pub use reading::AddFields;
use reading::{ASKED, DECIDED, PART, at_fields};

/// Wires of the largest model for which something is proposed while a page is asked for: each way
/// tried is a study of every boat.
const MOST_WIRES: usize = 1_500;

/// Letters of an entry that are read whole in a closed list.
const LONGEST_ENTRY: usize = 50;

/// One entry of a list to choose from.
#[derive(Clone, Debug)]
struct Entry {
    value: String,
    text: String,
    is_chosen: bool,
}

/// Entries under one heading; an empty heading is none.
#[derive(Clone, Debug)]
struct Group {
    heading: String,
    entries: Vec<Entry>,
}

impl Entry {
    fn of(
        fields: &AddFields,
        name: &str,
        value: impl Into<String>,
        text: impl Into<String>,
    ) -> Self {
        let value = value.into();
        Self {
            is_chosen: fields.has(name, &value),
            value,
            text: text.into(),
        }
    }
}

/// The first page: what, where, how ordered.
#[derive(Debug, Template)]
#[template(path = "options/add.html")]
pub struct AddOptionPage {
    frame: Frame,
    faults: Vec<FieldFault>,
    fields: AddFields,
    likes: Vec<Group>,
    classes: Vec<Entry>,
    states: Vec<Entry>,
    points: Vec<Group>,
    rules: Vec<Group>,
    /// Fields with which a proposal was changed: label, name, value.
    decided: Vec<(&'static str, String, String)>,
    /// Plan with its points; empty where no zone states an outline.
    plan: String,
    /// Its size in pixels.
    size: (u32, u32),
    /// Point chosen on it just now.
    pointed: String,
    cancel: String,
    action: String,
}

/// A decision with the field that changes it.
#[derive(Clone, Debug)]
struct ChoiceRow {
    question: &'static str,
    words: String,
    reason: String,
    field: Option<&'static str>,
    /// Lists; a field without entries is typed in.
    entries: Vec<Entry>,
    value: String,
    /// Other answers with their numbers, where these are too long for a list.
    others: Vec<String>,
}

/// The second page: the proposal, its reasons, its effect.
#[derive(Debug, Template)]
#[template(path = "options/proposed.html")]
pub struct ProposedPage {
    frame: Frame,
    faults: Vec<FieldFault>,
    name: String,
    option: String,
    choices: Vec<ChoiceRow>,
    cautions: Vec<String>,
    effect: EffectWords,
    asked: Vec<(String, String)>,
    carried: Vec<(String, String)>,
    who: String,
    reason: String,
    expected: i64,
    /// What was saved after the revision that was looked at.
    meanwhile: Option<String>,
    action: String,
    back: String,
}

/// Address of the first page.
fn frame(view: &View, title: &str) -> Frame {
    let to = &view.addresses;
    Frame::of(title, view, "options").under("Options", to.to(&["options"]))
}

fn label(field: &str) -> &'static str {
    match field {
        "code" => "Code of the option",
        "feed" => "Fed from",
        "back" => "Returned to",
        "rating_a" => "Rating of its device, A",
        "size" => "Size of feed and return",
        "fitted" => "Harness",
        _ => "Color of the feed",
    }
}

impl AddOptionPage {
    /// The form, filled in as sent, with what is wrong.
    pub fn new(view: &View, fields: AddFields, faults: &[Fault]) -> Self {
        let model = &view.study.model;
        let title = "Add an option";
        let places = Places::of(model);
        let chosen = Chosen {
            point: model.points.find(fields.text("point")),
            ..Chosen::default()
        };
        let nowhere = Links {
            point: &|_| None,
            run: &|_| None,
        };
        let decided = DECIDED.iter().filter(|name| {
            let at = format!("/{name}");
            !fields.text(name).is_empty() || faults.iter().any(|fault| fault.pointer == at)
        });
        Self {
            frame: Frame {
                is_form_again: !faults.is_empty(),
                ..frame(view, title)
            },
            faults: FieldFault::of(faults),
            likes: likes(model, &fields),
            classes: [
                (DropClass::Critical, "critical: 3 %"),
                (DropClass::Other, "other: 10 %"),
            ]
            .map(|(class, text)| Entry::of(&fields, "drop_class", class.word(), text))
            .to_vec(),
            states: model
                .states
                .iter()
                .map(|(_, state)| Entry::of(&fields, "states", state.id(), state.title()))
                .collect(),
            points: points(model, &fields),
            rules: rules(model, &fields),
            decided: decided
                .map(|name| {
                    (
                        label(name),
                        (*name).to_owned(),
                        fields.text(name).to_owned(),
                    )
                })
                .collect(),
            plan: places
                .as_ref()
                .map_or_else(String::new, |places| places.draw(&chosen, &nowhere)),
            size: places.as_ref().map_or((0, 0), Places::size),
            pointed: match (fields.is_pointed(), chosen.point) {
                (true, Some(at)) => model.points[at].title().to_owned(),
                _ => String::new(),
            },
            cancel: view.addresses.to(&["options"]),
            action: view.addresses.to(&["options", "add"]),
            fields,
        }
    }
}

/// What a component may be like: those of the model, then loads of the parts lists.
fn likes(model: &BoatModel, fields: &AddFields) -> Vec<Group> {
    let loads = model.loads.iter();
    let components = Group {
        heading: "Components of this model".to_owned(),
        entries: loads
            .map(|(_, load)| Entry::of(fields, "like", load.id(), load.title()))
            .collect(),
    };
    let of_list = |heading: &str, list: &PartsRecord| Group {
        heading: heading.to_owned(),
        entries: list
            .loads
            .iter()
            .map(|part| {
                Entry::of(
                    fields,
                    "like",
                    format!("{PART}{}", part.id),
                    part_words(part),
                )
            })
            .collect(),
    };
    let groups = [
        components,
        of_list("Own parts", &fields.own),
        of_list("Shipped parts: typical figures", shipped()),
    ];
    let groups = groups.into_iter();
    groups.filter(|group| !group.entries.is_empty()).collect()
}

fn part_words(part: &LoadPartRecord) -> String {
    let draws = [
        part.current_a.map(|value| format!("{value} A")),
        part.power_w.map(|value| format!("{value} W")),
        part.resistance_ohm.map(|value| format!("{value} ohm")),
    ];
    let draws = draws.into_iter().flatten().next();
    let name = part.name.as_deref().unwrap_or(&part.id);
    let from = part.figure_from.as_deref().unwrap_or("source not stated");
    match draws {
        Some(draws) => format!("{name}: {draws}, {from}"),
        None => format!("{name}: draw not stated"),
    }
}

/// Points by zone, those of no zone last.
fn points(model: &BoatModel, fields: &AddFields) -> Vec<Group> {
    let entry = |point: &harness_core::model::Point| {
        let name = point.name.as_deref().unwrap_or(point.id());
        Entry::of(fields, "point", point.id(), name)
    };
    let group = |heading: &str, zone| Group {
        heading: heading.to_owned(),
        entries: model
            .points
            .iter()
            .filter(|(_, point)| point.zone == zone)
            .map(|(_, point)| entry(point))
            .collect(),
    };
    let zones = model
        .zones
        .iter()
        .map(|(at, zone)| group(zone.title(), Some(at)));
    let all = zones.chain([group("Zone not stated", None)]);
    all.filter(|group| !group.entries.is_empty()).collect()
}

fn rules(model: &BoatModel, fields: &AddFields) -> Vec<Group> {
    let kinds = [
        ("requires", "Only together with"),
        ("excludes", "Never together with"),
        ("one-of", "At most one of it and"),
    ];
    let group = |(kind, heading): (&str, &str)| Group {
        heading: heading.to_owned(),
        entries: model
            .options
            .iter()
            .map(|(_, option)| {
                let name = option.name.as_deref().unwrap_or(option.id());
                let text = format!("{}: {name}", heading.to_lowercase());
                Entry::of(fields, "ordered", format!("{kind} {}", option.id()), text)
            })
            .collect(),
    };
    let groups = kinds.into_iter().map(group);
    groups.filter(|group| !group.entries.is_empty()).collect()
}

/// Works out the proposal that a form asks for.
///
/// # Errors
/// What is wrong, each at its field.
pub fn proposal(study: &Study, fields: &AddFields) -> Result<Proposal, Vec<Fault>> {
    let ask = fields.ask(&study.model)?;
    let wires = study.model.wires.len();
    if wires > MOST_WIRES {
        let detail = "the model has too many wires for a proposal while you wait: add the option in \
                      the file";
        let fault = Fault::new("/name", detail).given(format!("{wires} wires"));
        return Err(vec![fault.limit(format!("up to {MOST_WIRES} wires"))]);
    }
    propose(study, &ask, &fields.own.conductors).map_err(at_fields)
}

impl ProposedPage {
    /// The proposal with its effect on every boat.
    ///
    /// # Errors
    /// [`Error::Answer`] when what was proposed is no model.
    pub fn new(
        view: &View,
        fields: &AddFields,
        proposal: &Proposal,
        expected: i64,
        faults: &[Fault],
    ) -> Result<Self, Error> {
        let broken = |why: String| Error::Answer(format!("a proposal is no model: {why}").into());
        let model = file_format::model(&proposal.record).map_err(|faults| {
            let words: Vec<_> = faults.iter().map(ToString::to_string).collect();
            broken(words.join("; "))
        })?;
        let after = Study::of(model, BoatChoice::Every).map_err(|why| broken(why.to_string()))?;
        let effect = Effect::of(&view.study, &after);
        let name = fields.text("name").trim().to_owned();
        let all: Vec<&str> = ASKED.iter().chain(DECIDED).copied().collect();
        let asked: Vec<_> = ASKED.to_vec();
        let query = fields.carried(&all);
        let query: Vec<_> = query
            .iter()
            .map(|(name, value)| (name.as_str(), value.as_str()))
            .collect();
        let given = fields.text("reason");
        Ok(Self {
            frame: Frame {
                is_form_again: !faults.is_empty(),
                ..frame(view, "Add an option: the proposal")
                    .under("Add an option", view.addresses.to(&["options", "add"]))
            },
            faults: FieldFault::of(faults),
            option: proposal.option.clone(),
            choices: proposal
                .choices
                .iter()
                .map(|choice| row(fields, choice))
                .collect(),
            cautions: proposal.cautions.clone(),
            effect: EffectWords::of(&effect, &fields.own),
            asked: fields.carried(&asked),
            carried: fields.carried(&all),
            who: fields.text("who").to_owned(),
            reason: match given.is_empty() {
                true => format!("Option added: {name}"),
                false => given.to_owned(),
            },
            expected,
            meanwhile: None,
            action: view.addresses.to(&["options", "add"]),
            back: format!(
                "{}&again=1",
                view.addresses.with(&["options", "add"], &query)
            ),
            name,
        })
    }

    /// Says that the model was changed after it was looked at, and by whom.
    pub fn after(mut self, latest: &RevisionHead) -> Self {
        self.frame.is_form_again = true;
        self.meanwhile = Some(latest_words(latest));
        self
    }
}

/// A revision in words: its number, who saved it and why.
fn latest_words(latest: &RevisionHead) -> String {
    let by = match latest.who.is_empty() {
        true => String::new(),
        false => format!(" by {}", latest.who),
    };
    let why = match latest.reason.is_empty() {
        true => String::new(),
        false => format!(": {}", latest.reason),
    };
    format!("Revision {}{by}{why}", latest.number)
}

fn row(fields: &AddFields, choice: &harness_core::adding::Choice) -> ChoiceRow {
    let value = choice.field.map_or("", |field| fields.text(field));
    let mut entries = Vec::new();
    if !choice.alternatives.is_empty() {
        let text = match value.is_empty() {
            true => format!("as proposed: {}", choice.words),
            false => "leave it to the proposal".to_owned(),
        };
        entries.push(Entry {
            value: String::new(),
            text,
            is_chosen: value.is_empty(),
        });
        if !value.is_empty() {
            let text = format!("as asked for: {}", choice.words);
            entries.push(Entry {
                value: value.to_owned(),
                text,
                is_chosen: true,
            });
        }
        entries.extend(choice.alternatives.iter().map(|other| Entry {
            value: other.value.clone(),
            text: other.words.clone(),
            is_chosen: false,
        }));
    }
    ChoiceRow {
        question: choice.question,
        words: choice.words.clone(),
        reason: choice.reason.clone(),
        field: choice.field,
        entries,
        value: value.to_owned(),
        others: choice
            .alternatives
            .iter()
            .map(|other| other.words.clone())
            .filter(|words| words.len() > LONGEST_ENTRY)
            .collect(),
    }
}

/// The same view with every buildable boat in it: an option is added for all of them.
pub fn of_every_boat(view: View) -> View {
    View {
        addresses: view.addresses.of_boat(AskedBoat::Every),
        ..view
    }
}
