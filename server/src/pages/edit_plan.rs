//! The plan on which points and runs are changed.

use std::collections::BTreeMap;

use askama::Template;
use harness_core::model::{BoatModel, Identified, Index, Point, Zone};
use harness_core::units::UnitSystem;

use super::drawing::{Chosen, Links, Place, Places};
use super::{FieldFault, Frame};
use crate::shown::Setting;
use crate::store::RevisionHead;
use crate::studies::AskedBoat;
use crate::view::Addresses;

/// What is done on the plan.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Doing {
    /// A point is chosen and moved.
    #[default]
    Move,
    /// A point is added.
    Add,
    /// A run is drawn from point to point.
    Run,
}

impl Doing {
    const ALL: [(Self, &'static str); 3] = [
        (Self::Move, "Move a point"),
        (Self::Add, "Add a point"),
        (Self::Run, "Draw a run"),
    ];

    /// The word in addresses and forms; anything else moves.
    pub fn of(word: &str) -> Self {
        match word {
            "add" => Self::Add,
            "run" => Self::Run,
            _ => Self::Move,
        }
    }

    /// The word in addresses and forms.
    pub fn word(self) -> &'static str {
        match self {
            Self::Move => "move",
            Self::Add => "add",
            Self::Run => "run",
        }
    }
}

/// Least distance between two places that are pointed at, mm: a round number in the reader's
/// units.
pub fn step(units: UnitSystem) -> f64 {
    match units {
        UnitSystem::Si => 10.0,
        UnitSystem::Us => 12.7,
    }
}

/// What stands in the form, as sent or as shown.
#[derive(Clone, Debug, Default)]
pub struct PlanForm {
    /// What is done.
    pub doing: Doing,
    /// Units of its bare numbers.
    pub units: UnitSystem,
    /// Revision it was filled from.
    pub seen: i64,
    /// Texts of its fields by name.
    pub texts: BTreeMap<String, String>,
    /// What is wrong.
    pub faults: Vec<FieldFault>,
    /// Revision that was just saved from here.
    pub saved: Option<i64>,
}

impl PlanForm {
    /// Text of a field; empty where it was not sent.
    pub fn text(&self, name: &str) -> &str {
        self.texts.get(name).map_or("", String::as_str)
    }

    /// Puts a text in a field.
    pub fn put(&mut self, name: &str, text: impl Into<String>) {
        self.texts.insert(name.to_owned(), text.into());
    }
}

/// A choice of a list.
#[derive(Clone, Debug)]
struct Entry {
    value: String,
    text: String,
}

/// Points of one zone.
#[derive(Clone, Debug)]
struct Group {
    heading: String,
    entries: Vec<Entry>,
}

/// A way of working, in the row of links.
#[derive(Clone, Debug)]
struct Way {
    text: &'static str,
    href: String,
    is_here: bool,
}

/// The plan, and the form of what is pointed at.
#[derive(Debug, Template)]
#[template(path = "edit/plan.html")]
pub struct EditPlanPage {
    frame: Frame,
    form: PlanForm,
    ways: Vec<Way>,
    zones: Vec<Entry>,
    points: Vec<Group>,
    svg: String,
    size: (u32, u32),
    step_mm: f64,
    step_words: &'static str,
    saved_href: String,
    /// Pages of the thing at hand: what else can be done with it.
    more: Vec<(String, String)>,
    unplaced: Vec<String>,
    action: String,
}

impl EditPlanPage {
    /// The plan of a model; `run` is a run that was chosen.
    pub fn new(head: &RevisionHead, model: &BoatModel, form: PlanForm, run: &str) -> Self {
        let to = Addresses::new(head.model_id.clone(), AskedBoat::Every);
        let action = to.to(&["edit", "plan"]);
        let way = |(doing, text): (Doing, &'static str)| Way {
            text,
            href: to.with(&["edit", "plan"], &[("doing", doing.word())]),
            is_here: doing == form.doing,
        };
        let places = Places::of(model);
        let point = match form.doing {
            Doing::Move => model.points.find(form.text("point")),
            Doing::Run => model.points.find(form.text("from")),
            Doing::Add => None,
        };
        let chosen = Chosen {
            point,
            run: model.runs.find(run),
            place: place(model, &form),
        };
        let link = |name: &str, id: &str| {
            let mut query = vec![("doing", form.doing.word()), (name, id)];
            if name == "to" {
                query.insert(1, ("from", form.text("from")));
            }
            to.with(&["edit", "plan"], &query) + "#fields"
        };
        let links = Links {
            point: &|point| match form.doing {
                Doing::Move => Some(link("point", point.id())),
                Doing::Run if form.text("from").is_empty() => Some(link("from", point.id())),
                Doing::Run => Some(link("to", point.id())),
                Doing::Add => None,
            },
            run: &|run| (form.doing == Doing::Move).then(|| link("run", run.id())),
        };
        let svg = places.as_ref().map(|places| places.draw(&chosen, &links));
        let is_drawn = |at| {
            places
                .as_ref()
                .is_some_and(|all| all.on_sheet(at).is_some())
        };
        let unplaced = model.points.iter().filter(|(at, _)| !is_drawn(*at));
        Self {
            frame: Frame {
                is_form_again: !form.faults.is_empty(),
                ..Frame::new("Change the plan")
                    .of_model(head, "edit")
                    .under("Change the boat model", to.to(&["edit"]))
            },
            ways: Doing::ALL.map(way).to_vec(),
            zones: model
                .zones
                .iter()
                .map(|(_, zone)| Entry {
                    value: zone.id().to_owned(),
                    text: zone.title().to_owned(),
                })
                .collect(),
            points: points(model),
            size: places.as_ref().map_or((0, 0), Places::size),
            svg: svg.unwrap_or_default(),
            step_mm: step(form.units),
            step_words: match form.units {
                UnitSystem::Si => "10 mm",
                UnitSystem::Us => "1/2 in",
            },
            saved_href: form.saved.map_or_else(String::new, |number| {
                to.to(&["revisions", &number.to_string()])
            }),
            more: more(&to, model, &form, &chosen),
            unplaced: unplaced
                .map(|(_, point)| point.title().to_owned())
                .collect(),
            action,
            form,
        }
    }

    /// Name of the unit in which coordinates stand.
    fn unit(&self) -> &'static str {
        match self.form.units {
            UnitSystem::Si => "mm",
            UnitSystem::Us => "in",
        }
    }

    /// Mark of the units, for the form.
    fn mark(&self) -> String {
        Setting {
            units: self.form.units,
            ..Setting::default()
        }
        .mark()
    }

    fn label(&self, what: &str) -> String {
        format!("{what}, {}", self.unit())
    }
}

/// The place that stands in the form, to be drawn.
fn place(model: &BoatModel, form: &PlanForm) -> Option<Place> {
    let number =
        |name: &str| harness_core::tabular::measured(form.text(name), "mm", form.units).ok();
    Some(Place {
        x: number("x_mm")?,
        y: number("y_mm")?,
        zone: model.zones.find(form.text("zone")),
    })
}

/// Points by zone, those of no zone last.
fn points(model: &BoatModel) -> Vec<Group> {
    let group = |heading: &str, zone: Option<Index<Zone>>| {
        let own = model.points.iter().filter(|(_, point)| point.zone == zone);
        let entry = |(_, point): (Index<Point>, &Point)| Entry {
            value: point.id().to_owned(),
            text: point.title().to_owned(),
        };
        Group {
            heading: heading.to_owned(),
            entries: own.map(entry).collect(),
        }
    };
    let zones = model.zones.iter();
    let zones = zones.map(|(at, zone)| group(zone.title(), Some(at)));
    let all = zones.chain([group("Zone not stated", None)]);
    all.filter(|group| !group.entries.is_empty()).collect()
}

fn more(
    to: &Addresses,
    model: &BoatModel,
    form: &PlanForm,
    chosen: &Chosen,
) -> Vec<(String, String)> {
    let mut more = Vec::new();
    if let Some(point) = chosen.point.map(|at| &model.points[at]) {
        let id = point.id();
        if form.doing == Doing::Move {
            let run = to.with(&["edit", "plan"], &[("doing", "run"), ("from", id)]);
            more.push((format!("Draw a run from {}", point.title()), run));
        }
        let remove = to.with(&["edit", "points", "remove"], &[("id", id)]);
        more.push((format!("Remove point {}", point.title()), remove));
        let all = to.with(&["edit", "points", "thing"], &[("id", id)]);
        more.push((format!("All fields of point {}", point.title()), all));
    }
    if let Some(run) = chosen.run.map(|at| &model.runs[at]) {
        let remove = to.with(&["edit", "runs", "remove"], &[("id", run.id())]);
        more.push((format!("Remove run {}", run.id()), remove));
        let all = to.with(&["edit", "runs", "thing"], &[("id", run.id())]);
        more.push((format!("All fields of run {}", run.id()), all));
    }
    more
}
