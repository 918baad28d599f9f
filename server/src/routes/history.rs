//! Every revision of a boat model: what it changed, and going back.

use axum::extract::rejection::{FormRejection, QueryRejection};
use axum::extract::{Form, Path, Query, State};
use axum::response::Response;
use harness_core::edits::{Change, Clash, difference};
use harness_core::effect::Effect;
use serde::Deserialize;

use crate::error::{self, Error, Fault};
use crate::history::standing;
use crate::pages::{RevisionPage, RevisionsPage, first_page};
use crate::person::{Person, remember};
use crate::router::AppState;
use crate::saving::{self, Intent, Outcome};
use crate::studies::AskedBoat;
use crate::{answer, intake, lists, parts_list};

/// `GET /models/{id}/revisions`
pub async fn revisions(
    State(state): State<AppState>,
    Path(id): Path<String>,
    Person(who): Person,
) -> Result<Response, Error> {
    let revisions = state.store.revisions(&id).await?;
    let standing = standing(&revisions);
    answer::page(&RevisionsPage::new(revisions, standing, who))
}

/// `GET /models/{id}/revisions/{number}`: what it changed.
pub async fn revision(
    State(state): State<AppState>,
    Path((id, number)): Path<(String, String)>,
    query: Result<Query<Looks>, QueryRejection>,
    Person(who): Person,
) -> Result<Response, Error> {
    let Query(looks) = query?;
    let number = intake::revision_number(&number)?;
    let mut page = shown(&state, &id, number, who, &[]).await?;
    if looks.effect == "yes" && number > 1 {
        let before = state.store.revision(&id, number - 1).await?;
        let after = state.store.revision(&id, number).await?;
        let before = state.studies.of(&before, AskedBoat::Every).await?;
        let after = state.studies.of(&after, AskedBoat::Every).await?;
        let effect = tokio::task::spawn_blocking(move || Effect::of(&before, &after)).await;
        let effect = effect.map_err(|broken| Error::Panicked(broken.to_string()))?;
        page.show(&effect, &parts_list::own(&state.store).await?);
    }
    answer::page(&page)
}

/// Query of [`revision`]: whether its effect on every boat is shown too.
#[derive(Debug, Default, Deserialize)]
pub struct Looks {
    #[serde(default)]
    effect: String,
}

async fn shown(
    state: &AppState,
    id: &str,
    number: i64,
    who: String,
    clashes: &[Clash],
) -> Result<RevisionPage, Error> {
    let this = state.store.revision(id, number).await?;
    let latest = state.store.latest_head(id).await?;
    let before = match number {
        1 => None,
        _ => Some(state.store.revision(id, number - 1).await?.body),
    };
    let changes = tokio::task::spawn_blocking(move || -> Result<Vec<Change>, Error> {
        let Some(before) = before else {
            return Ok(Vec::new());
        };
        Ok(difference(
            &lists::saved(&before)?,
            &lists::saved(&this.body)?,
        ))
    });
    let changes = changes.await;
    let changes = changes.map_err(|broken| Error::Panicked(broken.to_string()))??;
    let in_the_way = clashes.iter().map(|clash| clash.key.words());
    Ok(RevisionPage::new(
        this.head,
        &latest,
        &changes,
        who,
        in_the_way.collect(),
    ))
}

/// Form of [`bring_back`] and [`take_back`].
#[derive(Debug, Deserialize)]
pub struct Confirmed {
    expected_revision: i64,
    #[serde(default)]
    who: String,
    #[serde(default)]
    reason: String,
}

impl Confirmed {
    fn intent(&self, id: String, reason: String) -> Result<Intent, Error> {
        let mut faults = Vec::new();
        let Some((who, given)) = intake::signed(&self.who, &self.reason, &mut faults) else {
            return Err(Error::Faults(faults));
        };
        Ok(Intent {
            id,
            seen: self.expected_revision,
            who,
            reason: match given.as_str() {
                intake::NOT_STATED => reason,
                _ => format!("{reason}: {given}"),
            },
        })
    }
}

/// `POST /models/{id}/revisions/{number}/bring-back`: its state becomes the latest one.
pub async fn bring_back(
    State(state): State<AppState>,
    Path((id, number)): Path<(String, String)>,
    form: Result<Form<Confirmed>, FormRejection>,
) -> Result<Response, Error> {
    let Form(confirmed) = form?;
    let number = intake::revision_number(&number)?;
    let reason = format!("back to revision {number}");
    let intent = confirmed.intent(id.clone(), reason)?;
    saving::bring_back(&state, &intent, number).await?;
    Ok(remember(answer::go_to(&first_page(&id)), &intent.who))
}

/// `POST /models/{id}/revisions/{number}/take-back`: only what this revision changed is undone;
/// later changes stay.
pub async fn take_back(
    State(state): State<AppState>,
    Path((id, number)): Path<(String, String)>,
    Person(known): Person,
    form: Result<Form<Confirmed>, FormRejection>,
) -> Result<Response, Error> {
    let Form(confirmed) = form?;
    let number = intake::revision_number(&number)?;
    if number == 1 {
        let detail = "revision 1 is the whole boat model: it cannot be taken back";
        return Err(Error::Faults(vec![Fault::new("", detail)]));
    }
    let before = state.store.revision(&id, number - 1).await?.body;
    let before = lists::saved(&before)?;
    // Seen from this revision, its author wants what was before it; all that came later is
    // somebody else's.
    let intent = Intent {
        seen: number,
        ..confirmed.intent(id.clone(), format!("revision {number} taken back"))?
    };
    match saving::save(&state, &intent, move |_| before.clone()).await? {
        Outcome::Saved(_) | Outcome::Nothing => {
            Ok(remember(answer::go_to(&first_page(&id)), &intent.who))
        }
        Outcome::Faults(faults, _) => Err(Error::Faults(faults)),
        Outcome::Clashes(_, clashes) => {
            error::form_again(&shown(&state, &id, number, known, &clashes).await?)
        }
    }
}
