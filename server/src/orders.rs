//! What can be ordered of a boat model, for the pages that need no study: they answer at once, and
//! also when no boat can be built, which is when they are needed most.

use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use harness_core::boats::{BoatSet, Options, TooWide};
use harness_core::model::{BoatModel, OptionIndex};
use harness_core::sheets::scope::option_names;
use harness_core::study::{BoatChoice, options_of};

use crate::error::Error;
use crate::router::AppState;
use crate::store::{Revision, RevisionHead};
use crate::studies::{AskedBoat, choice, stored_model};
use crate::view::Addresses;

/// A boat model with its options compiled.
#[derive(Clone, Debug)]
pub struct Orders {
    /// The revision shown.
    pub head: RevisionHead,
    /// The model.
    pub model: BoatModel,
    /// Its options under all their rules.
    pub options: Options,
    /// Every buildable boat.
    pub boats: Result<BoatSet, TooWide>,
    /// Codes of the options, by position.
    pub codes: Vec<String>,
    /// Options of the boat in view; none where all boats are.
    pub in_view: Option<Vec<OptionIndex>>,
    /// Addresses of other pages that keep the boat in view.
    pub addresses: Addresses,
}

impl Orders {
    fn of(revision: Revision, addresses: Addresses) -> Result<Self, Error> {
        let model = stored_model(&revision.body)?;
        let in_view = match choice(&model, addresses.boat()).map_err(Error::NoBoat)? {
            BoatChoice::Every | BoatChoice::Fullest => None,
            BoatChoice::Options(options) => Some(options),
            BoatChoice::Hull(hull) => Some(model.hulls[hull].options.clone()),
        };
        let options = options_of(&model);
        Ok(Self {
            head: revision.head,
            boats: BoatSet::of(&options),
            codes: option_names(&model),
            options,
            model,
            in_view,
            addresses,
        })
    }

    /// The boat in view, in words.
    pub fn boat_words(&self) -> String {
        match self.addresses.boat() {
            AskedBoat::Every => "all buildable boats".to_owned(),
            AskedBoat::Hull(hull) => format!("hull {hull}"),
            AskedBoat::Options(codes) => format!("one boat: {}", codes.join(", ")),
        }
    }
}

impl FromRequestParts<AppState> for Orders {
    type Rejection = Error;

    async fn from_request_parts(parts: &mut Parts, state: &AppState) -> Result<Self, Error> {
        let addresses = Addresses::asked(parts, state).await?;
        let revision = state.store.latest(addresses.id()).await?;
        tokio::task::spawn_blocking(move || Self::of(revision, addresses))
            .await
            .map_err(|broken| Error::Panicked(broken.to_string()))?
    }
}
