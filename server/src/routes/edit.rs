//! Changing a boat model: every thing of every list, one at a time.

use std::collections::BTreeMap;

use axum::extract::rejection::{FormRejection, QueryRejection};
use axum::extract::{Form, Path, Query, State};
use axum::http::StatusCode;
use axum::response::Response;
use harness_core::edits::{Key, List, SETTINGS, Whole, find_list, mentions, renamed};
use harness_core::effect::Effect;
use harness_core::file_format::form::Form as Declared;
use harness_core::file_format::{self, ModelRecord, PartsRecord};
use harness_core::parts;
use harness_core::study::{BoatChoice, Study};
use harness_core::tabular::entries;
use harness_core::units::UnitSystem;
use serde::Deserialize;
use serde_json::{Map, Value};

use crate::error::{self, Error, Fault};
use crate::pages::{EditListPage, EditListsPage, FieldFault, Filled, RemovePage, ThingPage};
use crate::parts_list;
use crate::person::{Person, remember};
use crate::router::AppState;
use crate::saving::{self, Intent, Outcome, Prepared};
use crate::shown::Setting;
use crate::store::RevisionHead;
use crate::studies::AskedBoat;
use crate::{answer, intake};

/// `GET /models/{id}/edit`: every list.
pub async fn lists(
    State(state): State<AppState>,
    Path(id): Path<String>,
) -> Result<Response, Error> {
    let latest = state.store.latest(&id).await?;
    let whole = state.lists.of(&latest)?;
    answer::page(&EditListsPage::new(&latest.head, &whole))
}

/// Query of [`list`].
#[derive(Debug, Default, Deserialize)]
pub struct Find {
    #[serde(default)]
    find: String,
}

/// `GET /models/{id}/edit/{list}`: the things of a list; `find` keeps those that hold the words.
pub async fn list(
    State(state): State<AppState>,
    Path((id, list)): Path<(String, String)>,
    query: Result<Query<Find>, QueryRejection>,
    setting: Setting,
) -> Result<Response, Error> {
    let Query(asked) = query?;
    let list = known(&list)?;
    let latest = state.store.latest(&id).await?;
    answer::worked_out(move || {
        let whole = state.lists.of(&latest)?;
        Ok(EditListPage::new(
            &latest.head,
            &whole,
            &list,
            &asked.find,
            setting.units,
        ))
    })
    .await
}

/// Query that names a thing; without it, a new one.
#[derive(Debug, Default, Deserialize)]
pub struct Named {
    #[serde(default)]
    pub(super) id: String,
    /// Part of the parts list whose figures are taken.
    #[serde(default)]
    pub(super) part: String,
}

/// What is edited in one form.
pub(super) struct Edited {
    pub(super) list: Option<List>,
    pub(super) form: &'static Declared,
}

impl Edited {
    fn of(list: &str) -> Result<Self, Error> {
        if list == SETTINGS {
            return Ok(Self {
                list: None,
                form: ModelRecord::FORM,
            });
        }
        let list = known(list)?;
        Ok(Self {
            form: list.form,
            list: Some(list),
        })
    }

    /// The thing of this key as it stands; of the model as a whole what is no list.
    pub(super) fn thing(&self, whole: &Whole, id: &str) -> Result<Map<String, Value>, Error> {
        let Some(list) = &self.list else {
            let fields = whole.keys().into_iter().filter(|key| key.list == SETTINGS);
            let stated = fields.filter_map(|key| Some((key.id.clone(), whole.get(&key)?.clone())));
            return Ok(stated.collect());
        };
        if id.is_empty() {
            return Ok(Map::new());
        }
        let key = Key {
            list: list.name,
            id: id.to_owned(),
        };
        let found = whole.get(&key).and_then(Value::as_object);
        found.cloned().ok_or_else(|| {
            Error::NotFound(format!(
                "There is no {} now; somebody may have removed or renamed it.",
                key.words()
            ))
        })
    }

    /// Puts the thing in the place of the one that was called `before`; a new name is spoken
    /// everywhere.
    pub(super) fn put(&self, whole: &Whole, before: &str, thing: &Map<String, Value>) -> Whole {
        let mut now = whole.clone();
        let Some(list) = &self.list else {
            for key in whole.keys().into_iter().filter(|key| key.list == SETTINGS) {
                if !thing.contains_key(&key.id) {
                    // It was listed a moment ago.
                    let _ = now.remove(&key);
                }
            }
            for (field, value) in thing {
                let key = Key {
                    list: SETTINGS,
                    id: field.clone(),
                };
                now.put(&key, value.clone());
            }
            return now;
        };
        let thing = Value::Object(thing.clone());
        let key = Whole::key_of(list, &thing);
        let was = Key {
            list: list.name,
            id: before.to_owned(),
        };
        let free = now.get(&key).is_none();
        if !before.is_empty() && before != key.id && free {
            if list.kinds.is_empty() {
                let _ = now.remove(&was);
            } else {
                now = renamed(&now, list.kinds, before, &key.id);
            }
        }
        now.put(&key, thing);
        now
    }
}

fn known(list: &str) -> Result<List, Error> {
    find_list(list).ok_or_else(|| Error::NotFound(format!("A boat model has no list “{list}”.")))
}

/// `GET /models/{id}/edit/{list}/thing`
pub async fn thing(
    State(state): State<AppState>,
    Path((id, list)): Path<(String, String)>,
    query: Result<Query<Named>, QueryRejection>,
    Person(who): Person,
    setting: Setting,
) -> Result<Response, Error> {
    let Query(named) = query?;
    let edited = Edited::of(&list)?;
    let latest = state.store.latest(&id).await?;
    let whole = state.lists.of(&latest)?;
    let mut stated = edited.thing(&whole, &named.id)?;
    let own = parts_list::own(&state.store).await?;
    let taken = match (named.part.as_str(), edited.list) {
        ("", _) | (_, None) => None,
        (number, Some(list)) => {
            let part = parts::find(&own, list.name, number);
            let part = part.ok_or_else(|| {
                Error::NotFound(format!(
                    "No parts list has a part “{number}” for the {} now; somebody may have \
                     removed or renamed it.",
                    list.words()
                ))
            })?;
            stated = parts::taken(list.name, &stated, &part);
            Some((part.id, part.origin.words()))
        }
    };
    let filled = Filled {
        seen: latest.head.number,
        key: named.id,
        texts: texts(edited.form, &stated, setting.units),
        units: setting.units,
        who,
        ..Filled::default()
    };
    let list = edited.list.as_ref();
    let mut page = ThingPage::of(&latest.head, &whole, list, edited.form, filled);
    if let Some(list) = list {
        page.offer(offered(&own, list.name), taken);
    }
    answer::page(&page)
}

/// Parts that can be taken for a list of a boat model: the builder's own first.
fn offered(own: &PartsRecord, list: &str) -> Vec<(String, String)> {
    let parts = parts::offered(own, list).into_iter();
    let words = |part: parts::Part| {
        let title = format!("{} ({}: {})", part.title(), part.origin.words(), part.id);
        (part.id, title)
    };
    parts.map(words).collect()
}

pub(super) fn texts(
    form: &'static Declared,
    thing: &Map<String, Value>,
    units: UnitSystem,
) -> BTreeMap<String, String> {
    let all = entries(form).into_iter();
    all.map(|entry| (entry.name(), entry.text(thing, units)))
        .collect()
}

/// What was sent.
pub(super) struct Sent {
    pub(super) texts: BTreeMap<String, String>,
    pub(super) seen: i64,
    pub(super) key: String,
    /// Units of its bare numbers: those in which the form was shown, whatever is set since.
    pub(super) units: UnitSystem,
    pub(super) who: String,
    pub(super) reason: String,
    /// Whether only the effect is asked for.
    looks: bool,
}

impl Sent {
    pub(super) fn of(fields: Vec<(String, String)>) -> Self {
        let mut texts: BTreeMap<String, String> = fields.into_iter().collect();
        let mut take = |name: &str| texts.remove(name).unwrap_or_default();
        Self {
            // A form without it was not made by this page: it gets no say over any revision.
            seen: take("expected_revision").parse().unwrap_or(0),
            key: take("key"),
            units: Setting::of_mark(&take("units")).units,
            who: take("who"),
            reason: take("reason"),
            looks: take("look") == "yes",
            texts,
        }
    }
}

/// `POST /models/{id}/edit/{list}/thing`: the fields of the thing by name, with
/// `expected_revision`, `key`, `who`, `reason`.
pub async fn save(
    State(state): State<AppState>,
    Path((id, list)): Path<(String, String)>,
    form: Result<Form<Vec<(String, String)>>, FormRejection>,
) -> Result<Response, Error> {
    let Form(fields) = form?;
    let edited = Edited::of(&list)?;
    let sent = Sent::of(fields);
    let base = state.store.revision(&id, sent.seen).await?;
    let whole = state.lists.of(&base)?;
    let mut stated = edited.thing(&whole, &sent.key)?;
    // A form that comes back holds what was not asked too, so that sending it again keeps it.
    let mut shown = texts(edited.form, &stated, sent.units);
    shown.extend(sent.texts.clone());
    let mut faults = typed_in(edited.form, &sent.texts, &mut stated, sent.units);
    if let Some(list) = &edited.list
        && let Some(fault) = name_taken(&whole, list, &sent.key, &stated)
    {
        faults.push(fault);
    }
    let mut plain = Vec::new();
    let signed = intake::signed(&sent.who, &sent.reason, &mut plain);
    faults.extend(FieldFault::of(&plain));
    let page = |latest: &RevisionHead, whole: &Whole, faults| {
        let filled = Filled {
            seen: sent.seen,
            key: sent.key.clone(),
            units: sent.units,
            texts: shown.clone(),
            who: sent.who.clone(),
            reason: sent.reason.clone(),
            faults,
        };
        ThingPage::of(latest, whole, edited.list.as_ref(), edited.form, filled)
    };
    let (Some((who, reason)), true) = (signed, faults.is_empty()) else {
        return error::form_again(&page(&base.head, &whole, faults));
    };
    let intent = Intent {
        id: id.clone(),
        seen: sent.seen,
        who,
        reason,
    };
    let (list_of, form_of, before) = (edited.list, edited.form, sent.key.clone());
    let key = edited
        .list
        .as_ref()
        .map(|list| Whole::key_of(list, &Value::Object(stated.clone())));
    let make = move |whole: &Whole| {
        let edited = Edited {
            list: list_of,
            form: form_of,
        };
        edited.put(whole, &before, &stated)
    };
    if sent.looks
        && let (head, Prepared::Ready(ready)) =
            saving::prepared(&state, &intent, make.clone()).await?
    {
        let mut looked = page(&base.head, &whole, Vec::new());
        let effect = effect(&state, &id, &head, &ready.file.body).await?;
        looked.show(&effect, &parts_list::own(&state.store).await?);
        return answer::page(&looked);
    }
    match saving::save(&state, &intent, make).await? {
        Outcome::Saved(head) => {
            let to = format!("/models/{}/revisions/{}", head.model_id, head.number);
            Ok(remember(answer::go_to(&to), &intent.who))
        }
        Outcome::Nothing => {
            let to = crate::view::Addresses::new(id, AskedBoat::Every);
            let to = match edited.list {
                Some(list) => to.to(&["edit", list.name]),
                None => to.to(&["edit"]),
            };
            Ok(remember(answer::go_to(&to), &intent.who))
        }
        Outcome::Faults(found, whole) => {
            let faults = placed(&found, &whole, key.as_ref());
            error::form_again(&page(&base.head, &whole, faults))
        }
        Outcome::Clashes(latest, clashes) => {
            let now = state.store.latest(&id).await?;
            let whole = state.lists.of(&now)?;
            let mut again = page(&latest, &whole, Vec::new());
            again.clash(&latest, edited.form, &clashes);
            let mut response = answer::page(&again)?;
            *response.status_mut() = StatusCode::CONFLICT;
            Ok(response)
        }
    }
}

/// Puts what was typed into a thing; what was not asked stays as it is.
pub(super) fn typed_in(
    form: &'static Declared,
    texts: &BTreeMap<String, String>,
    thing: &mut Map<String, Value>,
    units: UnitSystem,
) -> Vec<FieldFault> {
    let mut faults = Vec::new();
    for entry in entries(form) {
        let name = entry.name();
        if let Some(text) = texts.get(&name)
            && let Err(why) = entry.take(thing, text, units)
        {
            faults.push(FieldFault {
                text: format!("{}: {why}", entry.label(units)),
                field: name,
            });
        }
    }
    faults
}

/// What a model not yet stored does to every boat, beside the latest revision.
async fn effect(
    state: &AppState,
    id: &str,
    latest: &RevisionHead,
    body: &str,
) -> Result<Effect, Error> {
    let before = state.store.revision(id, latest.number).await?;
    let before = state.studies.of(&before, AskedBoat::Every).await?;
    let body = body.to_owned();
    let worked = tokio::task::spawn_blocking(move || -> Result<Effect, Error> {
        let told = |found: Vec<_>| Error::Faults(found.into_iter().map(Fault::from).collect());
        let model = file_format::read(&body).map_err(told)?;
        let after = Study::of(model, BoatChoice::Every);
        let after = after.map_err(|why| {
            Error::NoBoat(vec![Fault::new("", format!("with this change {why}"))])
        })?;
        Ok(Effect::of(&before, &after))
    });
    let worked = worked.await;
    worked.map_err(|broken| Error::Panicked(broken.to_string()))?
}

/// A new or changed short name that another thing of the list has.
pub(super) fn name_taken(
    whole: &Whole,
    list: &List,
    before: &str,
    thing: &Map<String, Value>,
) -> Option<FieldFault> {
    let key = Whole::key_of(list, &Value::Object(thing.clone()));
    let taken = key.id != before && whole.get(&key).is_some();
    taken.then(|| FieldFault {
        field: match list.kinds.is_empty() {
            true => "because".to_owned(),
            false => "id".to_owned(),
        },
        text: format!(
            "There is already a {}: change that one, or give another short name.",
            key.words()
        ),
    })
}

/// Faults of the whole model at the fields of the thing that was edited; those of other things at
/// the first field, with the name of the thing.
pub(super) fn placed(found: &[Fault], whole: &Whole, key: Option<&Key>) -> Vec<FieldFault> {
    let one = |fault: &Fault| {
        let Some((at, inside)) = whole.at_pointer(&fault.pointer) else {
            return FieldFault::of(std::slice::from_ref(fault)).remove(0);
        };
        let inside = inside.trim_start_matches('/');
        let names = inside
            .split('/')
            .filter(|name| name.parse::<usize>().is_err());
        let name = names.collect::<Vec<_>>().join(".");
        let mut inner = fault.clone();
        inner.pointer = String::new();
        let text = FieldFault::of(&[inner]).remove(0).text;
        let own = key.map_or(at.list == SETTINGS, |key| *key == at);
        let field = match (own, at.list == SETTINGS) {
            (true, true) if name.is_empty() => at.id,
            (true, true) => format!("{}.{name}", at.id),
            (true, false) => name,
            (false, _) => {
                let words = at.words();
                return FieldFault {
                    field: "fields".to_owned(),
                    text: format!("{words}, {}: {text}", name.replace(['.', '_'], " ")),
                };
            }
        };
        FieldFault { field, text }
    };
    found.iter().map(one).collect()
}

/// `GET /models/{id}/edit/{list}/remove`
pub async fn remove_form(
    State(state): State<AppState>,
    Path((id, list)): Path<(String, String)>,
    query: Result<Query<Named>, QueryRejection>,
    Person(who): Person,
) -> Result<Response, Error> {
    let Query(named) = query?;
    let list = known(&list)?;
    let latest = state.store.latest(&id).await?;
    let whole = state.lists.of(&latest)?;
    let edited = Edited {
        form: list.form,
        list: Some(list),
    };
    edited.thing(&whole, &named.id)?;
    let spoken = mentions(&whole, list.kinds, &named.id);
    answer::page(&RemovePage::new(
        &latest.head,
        &list,
        named.id,
        who,
        &spoken,
    ))
}

/// Form of [`remove`].
#[derive(Debug, Deserialize)]
pub struct Removed {
    key: String,
    expected_revision: i64,
    #[serde(default)]
    who: String,
    #[serde(default)]
    reason: String,
}

impl Removed {
    /// The thing that goes, and who wants it gone from the document `id`, and why.
    pub(super) fn asked(self, id: String, list: &List) -> Result<(Key, Intent), Error> {
        let mut faults = Vec::new();
        let signed = intake::signed(&self.who, &self.reason, &mut faults);
        let (who, reason) = signed.ok_or(Error::Faults(faults))?;
        let key = Key {
            list: list.name,
            id: self.key,
        };
        let intent = Intent {
            id,
            seen: self.expected_revision,
            who,
            reason,
        };
        Ok((key, intent))
    }
}

/// The same without a thing; gone already is gone.
pub(super) fn without(key: &Key) -> impl Fn(&Whole) -> Whole + Send + Sync + 'static {
    let key = key.clone();
    move |whole| {
        let mut now = whole.clone();
        let _ = now.remove(&key);
        now
    }
}

/// `POST /models/{id}/edit/{list}/remove`: form of `key`, `expected_revision`, `who`, `reason`.
pub async fn remove(
    State(state): State<AppState>,
    Path((id, list)): Path<(String, String)>,
    form: Result<Form<Removed>, FormRejection>,
) -> Result<Response, Error> {
    let Form(sent) = form?;
    let list = known(&list)?;
    let (key, intent) = sent.asked(id, &list)?;
    match saving::save(&state, &intent, without(&key)).await? {
        Outcome::Saved(head) => {
            let to = format!("/models/{}/revisions/{}", head.model_id, head.number);
            Ok(remember(answer::go_to(&to), &intent.who))
        }
        Outcome::Nothing => Err(Error::NotFound(format!(
            "The boat model has no {} now; somebody may have removed or renamed it.",
            key.words()
        ))),
        Outcome::Faults(faults, whole) => {
            let mut told = Vec::new();
            for fault in faults {
                let at = whole.at_pointer(&fault.pointer);
                let thing = at.map_or_else(String::new, |(at, _)| at.words());
                let detail = format!("{thing}: {}", fault.detail);
                told.push(Fault { detail, ..fault });
            }
            Err(Error::Faults(told))
        }
        Outcome::Clashes(latest, _) => Err(intent.late(&latest)),
    }
}
