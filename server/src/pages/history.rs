//! The pages of the history: every revision, and what one of them changed.

use askama::Template;
use harness_core::edits::Change;
use harness_core::effect::Effect;
use harness_core::file_format::PartsRecord;

use super::Frame;
use super::effect::EffectWords;
use crate::history::Standing;
use crate::store::RevisionHead;

/// All revisions of a boat model.
#[derive(Debug, Template)]
#[template(path = "models/revisions.html")]
pub struct RevisionsPage {
    frame: Frame,
    revisions: Vec<RevisionHead>,
    standing: Standing,
    who: String,
}

impl RevisionsPage {
    /// The revisions, newest first; `who` looks at them.
    pub fn new(revisions: Vec<RevisionHead>, standing: Standing, who: String) -> Self {
        let frame = Frame::new("Revisions");
        let frame = match revisions.first() {
            Some(latest) => frame.of_model(latest, "revisions"),
            None => frame,
        };
        Self {
            frame,
            revisions,
            standing,
            who,
        }
    }

    fn latest(&self) -> i64 {
        self.revisions.first().map_or(0, |head| head.number)
    }
}

/// A thing that a revision changed, in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChangeRow {
    pub(super) thing: String,
    pub(super) words: String,
}

impl From<&Change> for ChangeRow {
    fn from(change: &Change) -> Self {
        Self {
            thing: change.thing(),
            words: change.words(),
        }
    }
}

/// What one revision changed.
#[derive(Debug, Template)]
#[template(path = "models/revision.html")]
pub struct RevisionPage {
    frame: Frame,
    head: RevisionHead,
    latest: i64,
    changes: Vec<ChangeRow>,
    who: String,
    /// Things that were changed again since, so that this revision cannot be taken back alone.
    in_the_way: Vec<String>,
    effect: Option<EffectWords>,
}

impl RevisionPage {
    /// Revision `head` of a boat model whose latest revision is `latest`, with its changes.
    pub fn new(
        head: RevisionHead,
        latest: &RevisionHead,
        changes: &[Change],
        who: String,
        in_the_way: Vec<String>,
    ) -> Self {
        let title = format!("Revision {}", head.number);
        let frame = Frame::new(title).of_model(latest, "revisions");
        let revisions = format!("/models/{}/revisions", head.model_id);
        Self {
            frame: Frame {
                is_form_again: !in_the_way.is_empty(),
                ..frame.under("Revisions", revisions)
            },
            latest: latest.number,
            head,
            changes: changes.iter().map(ChangeRow::from).collect(),
            who,
            in_the_way,
            effect: None,
        }
    }

    /// Shows what the revision did to every boat.
    pub fn show(&mut self, effect: &Effect, list: &PartsRecord) {
        self.effect = Some(EffectWords::of(effect, list));
    }
}
