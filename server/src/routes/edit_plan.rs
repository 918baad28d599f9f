//! Points and runs changed on the plan.
//!
//! A place that was pointed at, or a point that was chosen, comes by GET and only fills the form;
//! what is saved comes by POST, as any other change.

use std::collections::BTreeMap;

use axum::extract::rejection::{FormRejection, QueryRejection};
use axum::extract::{Form, Path, Query, State};
use axum::http::StatusCode;
use axum::response::Response;
use harness_core::edits::{Clash, Key, Whole, find_list};
use harness_core::file_format;
use harness_core::model::{BoatModel, Identified};
use harness_core::tabular::{Entry, entries};
use harness_core::units::UnitSystem;
use serde_json::{Map, Value};

use super::placing;
use crate::error::{self, Error, Fault};
use crate::pages::{Doing, EditPlanPage, FieldFault, Places, PlanForm, step};
use crate::person::{Person, remember};
use crate::router::AppState;
use crate::saving::{self, Intent, Outcome};
use crate::shown::Setting;
use crate::store::RevisionHead;
use crate::studies::AskedBoat;
use crate::view::Addresses;
use crate::{answer, intake};

/// Name and value of each field, in the order sent.
type Pairs = Vec<(String, String)>;

const POINTS: &str = "points";
const RUNS: &str = "runs";

fn texts(pairs: Pairs) -> BTreeMap<String, String> {
    pairs.into_iter().collect()
}

fn read(body: &str) -> Result<BoatModel, Error> {
    let told = |found: Vec<_>| Error::Faults(found.into_iter().map(Fault::from).collect());
    file_format::read(body).map_err(told)
}

/// The fields of a thing of a list that the plan asks for.
fn fields(list: &str, asked: &[&str]) -> Vec<Entry> {
    let form = find_list(list).map(|list| list.form);
    let all = form.into_iter().flat_map(entries);
    all.filter(|entry| asked.contains(&&*entry.name()))
        .collect()
}

/// `GET /models/{id}/edit/plan`: the plan; `doing` is `move`, `add` or `run`, `point`, `from`,
/// `to`, `run` what was chosen, `at.x` and `at.y` a place of the drawing.
pub async fn plan(
    State(state): State<AppState>,
    Path(id): Path<String>,
    query: Result<Query<Pairs>, QueryRejection>,
    Person(who): Person,
    setting: Setting,
) -> Result<Response, Error> {
    let Query(pairs) = query?;
    let latest = state.store.latest(&id).await?;
    answer::worked_out(move || {
        let model = read(&latest.body)?;
        let mut asked = texts(pairs);
        let run = asked.remove("run").unwrap_or_default();
        // A form keeps its units; a page opened anew has the reader's.
        let units = match asked.remove("units") {
            Some(mark) => Setting::of_mark(&mark).units,
            None => setting.units,
        };
        let seen = asked.remove("expected_revision");
        let mut form = PlanForm {
            doing: Doing::of(&asked.remove("doing").unwrap_or_default()),
            units,
            seen: latest.head.number,
            saved: asked.remove("saved").and_then(|number| number.parse().ok()),
            texts: asked,
            faults: Vec::new(),
        };
        if form.text("who").is_empty() {
            form.put("who", who);
        }
        let is_chosen = form.doing == Doing::Move && chosen(&*state.lists.of(&latest)?, &mut form);
        // What stands in a form that was sent here is of the revision its author saw.
        if let Some(seen) = seen
            .and_then(|seen| seen.parse().ok())
            .filter(|_| !is_chosen)
        {
            form.seen = seen;
        }
        pointed(&model, &mut form);
        Ok(EditPlanPage::new(&latest.head, &model, form, &run))
    })
    .await
}

/// Fills the form of a point that was chosen just now with what the model states of it; says
/// whether one was.
fn chosen(whole: &Whole, form: &mut PlanForm) -> bool {
    let point = form.text("point").to_owned();
    if point.is_empty() || point == form.text("shown") {
        return false;
    }
    let Some(thing) = thing(whole, POINTS, &point) else {
        let text = format!("There is no point {point} now: choose one of the list.");
        form.faults.push(at("point", text));
        return false;
    };
    for entry in fields(POINTS, PLACE) {
        form.put(&entry.name(), entry.text(&thing, form.units));
    }
    form.put("shown", point);
    true
}

/// What of a point is asked when it is moved.
const PLACE: &[&str] = &["x_mm", "y_mm", "z_mm", "zone"];

fn thing(whole: &Whole, list: &'static str, id: &str) -> Option<Map<String, Value>> {
    let id = id.to_owned();
    whole.get(&Key { list, id })?.as_object().cloned()
}

fn at(field: &str, text: impl Into<String>) -> FieldFault {
    FieldFault {
        field: field.to_owned(),
        text: text.into(),
    }
}

/// A place of the drawing that was pointed at, put into the form in its units.
fn pointed(model: &BoatModel, form: &mut PlanForm) {
    let number = |name: &str| form.text(name).parse::<f64>().ok();
    let (Some(x), Some(y)) = (number("at.x"), number("at.y")) else {
        return;
    };
    let Some(places) = Places::of(model) else {
        return;
    };
    if form.doing == Doing::Run {
        let Some(nearest) = places.nearest((x, y)) else {
            return;
        };
        let id = model.points[nearest].id();
        let end = if form.text("from").is_empty() {
            "from"
        } else {
            "to"
        };
        form.put(end, id);
        return;
    }
    if form.doing == Doing::Move && form.text("point").is_empty() {
        form.faults.push(at(
            "point",
            "Choose first the point that is to be moved there.",
        ));
        return;
    }
    let place = places.in_boat((x, y), step(form.units));
    let Some(zone) = place.zone else {
        let text = "The place pointed at lies in no zone: point at a place inside an outline.";
        form.faults.push(at("x_mm", text));
        return;
    };
    let mut thing = Map::new();
    thing.insert("x_mm".to_owned(), place.x.into());
    thing.insert("y_mm".to_owned(), place.y.into());
    for entry in fields(POINTS, &["x_mm", "y_mm"]) {
        form.put(&entry.name(), entry.text(&thing, form.units));
    }
    form.put("zone", model.zones.id(zone));
}

/// A change asked for on the plan: the thing as it is to be.
struct Wanted {
    list: &'static str,
    id: String,
    thing: Map<String, Value>,
    /// Stands as the reason where none is given.
    words: String,
}

/// `POST /models/{id}/edit/plan`: the fields of the form with `expected_revision`, `who`,
/// `reason`.
pub async fn save(
    State(state): State<AppState>,
    Path(id): Path<String>,
    form: Result<Form<Pairs>, FormRejection>,
) -> Result<Response, Error> {
    let Form(pairs) = form?;
    let mut sent = texts(pairs);
    let mut take = |name: &str| sent.remove(name).unwrap_or_default();
    let mut form = PlanForm {
        doing: Doing::of(&take("doing")),
        units: Setting::of_mark(&take("units")).units,
        // A form without it was not made by this page: it gets no say over any revision.
        seen: take("expected_revision").parse().unwrap_or(0),
        texts: sent,
        ..PlanForm::default()
    };
    let base = state.store.revision(&id, form.seen).await?;
    let model = read(&base.body)?;
    let whole = state.lists.of(&base)?;
    let wanted = match form.doing {
        Doing::Move => moved(&whole, &model, &mut form),
        Doing::Add => added(&model, &mut form),
        Doing::Run => drawn(&model, &mut form),
    };
    let mut plain = Vec::new();
    let signed = intake::signed(form.text("who"), form.text("reason"), &mut plain);
    form.faults.extend(FieldFault::of(&plain));
    let again = |form: PlanForm| EditPlanPage::new(&base.head, &model, form, "");
    let (Some(wanted), Some((who, reason)), true) = (wanted, signed, form.faults.is_empty()) else {
        return error::form_again(&again(form));
    };
    let is_given = !form.text("reason").trim().is_empty();
    let intent = Intent {
        id: id.clone(),
        seen: form.seen,
        who,
        reason: if is_given { reason } else { wanted.words },
    };
    let key = Key {
        list: wanted.list,
        id: wanted.id.clone(),
    };
    let thing = Value::Object(wanted.thing);
    let make = move |whole: &Whole| {
        let mut now = whole.clone();
        now.put(&key, thing.clone());
        now
    };
    let to = Addresses::new(id, AskedBoat::Every);
    let back = |saved: &str| {
        let at = match form.doing {
            Doing::Run => ("from", form.text("to")),
            _ => ("point", wanted.id.as_str()),
        };
        let query = [("doing", form.doing.word()), at, ("saved", saved)];
        to.with(&["edit", "plan"], &query)
    };
    match saving::save(&state, &intent, make).await? {
        Outcome::Saved(head) => {
            let to = back(&head.number.to_string());
            Ok(remember(answer::go_to(&to), &intent.who))
        }
        Outcome::Nothing => Ok(remember(answer::go_to(&back("")), &intent.who)),
        Outcome::Faults(found, _) => {
            form.faults = FieldFault::of(&found);
            for fault in &mut form.faults {
                "fields".clone_into(&mut fault.field);
            }
            error::form_again(&again(form))
        }
        Outcome::Clashes(latest, clashes) => {
            let now = state.store.revision(to.id(), latest.number).await?;
            let theirs = read(&now.body)?;
            form.faults = clashes
                .iter()
                .map(|one| told(&latest, one, form.units))
                .collect();
            form.seen = latest.number;
            let mut response = answer::page(&EditPlanPage::new(&latest, &theirs, form, ""))?;
            *response.status_mut() = StatusCode::CONFLICT;
            Ok(response)
        }
    }
}

/// What somebody else made meanwhile of a thing that this form changes too.
fn told(latest: &RevisionHead, clash: &Clash, units: UnitSystem) -> FieldFault {
    let (number, who, words) = (latest.number, &latest.who, clash.key.words());
    let theirs = clash.theirs.as_ref().and_then(Value::as_object);
    let text = match (theirs, &clash.base) {
        (None, _) => format!(
            "Revision {number} by {who} removed {words} meanwhile; nothing of yours is stored. \
             Choose another point, or save again to put it back."
        ),
        (Some(_), None) => format!(
            "Revision {number} by {who} added {words} meanwhile; nothing of yours is stored. \
             Give another short name."
        ),
        (Some(theirs), Some(_)) => {
            let all = fields(clash.key.list, PLACE).into_iter();
            let each = all.map(|entry| {
                let text = entry.text(theirs, units);
                let stated = if text.is_empty() {
                    "not stated".to_owned()
                } else {
                    text
                };
                format!("{}: {stated}", entry.label(units).to_lowercase())
            });
            format!(
                "Revision {number} by {who} changed {words} meanwhile ({}); nothing of yours is \
                 stored. The form holds your version: saving it again puts it in the place of theirs.",
                each.collect::<Vec<_>>().join("; ")
            )
        }
    };
    at("fields", text)
}

/// Takes the fields of the form into a thing, each fault at its field.
fn take(form: &mut PlanForm, list: &str, asked: &[&str], thing: &mut Map<String, Value>) {
    for entry in fields(list, asked) {
        let name = entry.name();
        if let Some(text) = form.texts.get(&name)
            && let Err(why) = entry.take(thing, text, form.units)
        {
            let label = entry.label(form.units);
            form.faults.push(at(&name, format!("{label}: {why}")));
        }
    }
}

fn moved(whole: &Whole, model: &BoatModel, form: &mut PlanForm) -> Option<Wanted> {
    let id = form.text("point").to_owned();
    let Some(was) = thing(whole, POINTS, &id) else {
        let text = match id.is_empty() {
            true => "Choose the point that is to be moved.".to_owned(),
            false => format!("There is no point {id}: choose one of the list."),
        };
        form.faults.push(at("point", text));
        return None;
    };
    if form.text("shown") != id {
        // The coordinates in the form are those of another point.
        form.put("shown", "");
        chosen(whole, form);
        let text = format!("Point {id} was chosen just now: its own place is shown, change it.");
        form.faults.push(at("point", text));
        return None;
    }
    let mut now = was.clone();
    take(form, POINTS, PLACE, &mut now);
    if !form.faults.is_empty() {
        return None;
    }
    if now != was {
        form.faults
            .extend(placing::faults(model, Some(&id), &mut now));
    }
    form.faults.is_empty().then(|| Wanted {
        list: POINTS,
        words: format!("Point {id} moved on the plan"),
        thing: now,
        id,
    })
}

fn added(model: &BoatModel, form: &mut PlanForm) -> Option<Wanted> {
    let mut thing = Map::new();
    take(
        form,
        POINTS,
        &["id", "name", "x_mm", "y_mm", "z_mm", "zone"],
        &mut thing,
    );
    if form.faults.is_empty() {
        form.faults.extend(placing::faults(model, None, &mut thing));
    }
    if !form.faults.is_empty() {
        return None;
    }
    let id = match form.text("id").trim() {
        "" => placing::free_point(model, thing["zone"].as_str().unwrap_or("point")),
        given => given.to_owned(),
    };
    if model.points.find(&id).is_some() {
        let text = format!("There is already a point {id}: give another short name.");
        form.faults.push(at("id", text));
        return None;
    }
    thing.insert("id".to_owned(), id.clone().into());
    Some(Wanted {
        list: POINTS,
        words: format!("Point {id} added on the plan"),
        thing,
        id,
    })
}

fn drawn(model: &BoatModel, form: &mut PlanForm) -> Option<Wanted> {
    let ends = ["from", "to"].map(|end| form.text(end).to_owned());
    form.faults
        .extend(placing::run_faults(model, [&ends[0], &ends[1]]));
    if !form.faults.is_empty() {
        return None;
    }
    let [from, to] = ends;
    let id = match form.text("id").trim() {
        "" => placing::free_run(model, &from, &to),
        given => given.to_owned(),
    };
    if model.runs.find(&id).is_some() {
        let text = format!("There is already a run {id}: give another short name.");
        form.faults.push(at("id", text));
        return None;
    }
    let mut thing = Map::new();
    for (name, value) in [("id", &id), ("from", &from), ("to", &to)] {
        thing.insert(name.to_owned(), value.clone().into());
    }
    Some(Wanted {
        list: RUNS,
        words: format!("Run from {from} to {to} drawn on the plan"),
        thing,
        id,
    })
}
