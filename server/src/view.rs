//! What is in view on a page of a boat model: the model at its latest revision and the boat that
//! the address asks for, studied.

use std::sync::Arc;

use axum::extract::{FromRequestParts, Query, RawPathParams};
use axum::http::request::Parts;
use harness_core::model::{Circuit, Identified, Index, Load, Table};
use harness_core::rules::{DROP_CODE, Place};
use harness_core::sheets::Scope;
use harness_core::study::Study;
use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, utf8_percent_encode};
use serde::Deserialize;

use crate::error::{Error, Fault};
use crate::router::AppState;
use crate::store::RevisionHead;
use crate::studies::AskedBoat;

/// What a segment or a query value keeps as it is (RFC 3986, 2.3).
const ESCAPED: &AsciiSet = &NON_ALPHANUMERIC
    .remove(b'-')
    .remove(b'.')
    .remove(b'_')
    .remove(b'~');

/// A boat model with one of its boats, as an address asks for them.
#[derive(Clone, Debug)]
pub struct View {
    /// The revision shown.
    pub head: RevisionHead,
    /// The study of the boat in view.
    pub study: Arc<Study>,
    /// Addresses of other pages that keep the boat in view.
    pub addresses: Addresses,
}

/// Addresses of the pages of one boat model; each keeps the boat in view.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Addresses {
    id: String,
    boat: AskedBoat,
}

impl Addresses {
    /// Of the pages of the boat model `id` with `boat` in view.
    pub fn new(id: impl Into<String>, boat: AskedBoat) -> Self {
        Self {
            id: id.into(),
            boat,
        }
    }

    /// Those of the boat model and the boat that a request asks for.
    ///
    /// # Errors
    /// [`Error::NoBoat`] when the address asks for a hull and for options;
    /// [`Error::Faults`] when its query cannot be read.
    pub async fn asked(parts: &mut Parts, state: &AppState) -> Result<Self, Error> {
        let path = RawPathParams::from_request_parts(parts, state)
            .await
            .map_err(|_| Error::NotFound("Nothing has this address.".to_owned()))?;
        let id = path
            .iter()
            .find(|(name, _)| *name == "id")
            .map_or_else(String::new, |(_, id)| id.to_owned());
        let Query(query) = Query::<BoatQuery>::from_request_parts(parts, state).await?;
        Ok(Self::new(id, query.asked()?))
    }

    /// Id of the boat model.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// The page at `/models/{id}` and these segments.
    pub fn to(&self, segments: &[&str]) -> String {
        self.with(segments, &[])
    }

    /// The same with more of a query; empty values are left out.
    pub fn with(&self, segments: &[&str], query: &[(&str, &str)]) -> String {
        let mut address = format!("/models/{}", escape(&self.id));
        for segment in segments {
            address.push('/');
            address.push_str(&escape(segment));
        }
        let boat = self.boat_field();
        let boat = boat.iter().map(|(name, value)| (*name, value.as_str()));
        let stated = boat
            .chain(query.iter().copied())
            .filter(|(_, value)| !value.is_empty());
        for (number, (name, value)) in stated.enumerate() {
            address.push(if number == 0 { '?' } else { '&' });
            address.push_str(&format!("{name}={}", escape(value)));
        }
        address
    }

    /// Name and value of the query field that keeps the boat in view, for forms.
    pub fn boat_field(&self) -> Option<(&'static str, String)> {
        match &self.boat {
            AskedBoat::Every => None,
            AskedBoat::Hull(hull) => Some(("hull", hull.clone())),
            AskedBoat::Options(codes) => Some(("options", codes.join(","))),
        }
    }

    /// The boat asked for.
    pub fn boat(&self) -> &AskedBoat {
        &self.boat
    }

    /// The same with another boat in view.
    #[must_use]
    pub fn of_boat(&self, boat: AskedBoat) -> Self {
        Self::new(self.id.clone(), boat)
    }
}

fn escape(text: &str) -> String {
    utf8_percent_encode(text, ESCAPED).to_string()
}

/// Query of every page of a boat model.
#[derive(Debug, Deserialize)]
struct BoatQuery {
    #[serde(default)]
    hull: String,
    options: Option<String>,
}

impl BoatQuery {
    /// Empty fields come from forms and ask for nothing.
    fn asked(self) -> Result<AskedBoat, Error> {
        let codes: Vec<String> = self
            .options
            .iter()
            .flat_map(|list| list.split(','))
            .map(|code| code.trim().to_owned())
            .filter(|code| !code.is_empty())
            .collect();
        match (self.hull.trim(), codes.is_empty()) {
            ("", true) => Ok(AskedBoat::Every),
            ("", false) => Ok(AskedBoat::Options(codes)),
            (hull, true) => Ok(AskedBoat::Hull(hull.to_owned())),
            (hull, false) => {
                let detail = "the address asks for a hull and for options: take one of them";
                Err(Error::NoBoat(vec![Fault::new("hull", detail).given(hull)]))
            }
        }
    }
}

impl FromRequestParts<AppState> for View {
    type Rejection = Error;

    async fn from_request_parts(parts: &mut Parts, state: &AppState) -> Result<Self, Error> {
        let addresses = Addresses::asked(parts, state).await?;
        let revision = state.store.latest(&addresses.id).await?;
        let study = state.studies.of(&revision, addresses.boat.clone()).await?;
        Ok(Self {
            head: revision.head,
            study,
            addresses,
        })
    }
}

impl View {
    /// The boat in view, in words. What stands for all boats says so.
    pub fn boat_words(&self) -> String {
        match self.addresses.boat() {
            AskedBoat::Every if self.study.not_every.is_some() => self.study.judged_words(),
            AskedBoat::Every => {
                "all buildable boats, each limit on the one where it is worst".to_owned()
            }
            AskedBoat::Hull(hull) => format!("hull {hull}"),
            AskedBoat::Options(codes) => format!("one boat: {}", codes.join(", ")),
        }
    }

    /// With the boat at hand on which a load of this circuit loses most: its way is shown there.
    #[must_use]
    pub fn at_worst(self, circuit: Index<Circuit>, load: Option<Index<Load>>) -> Self {
        let study = &self.study;
        let loads = study.by_circuit.loads(circuit);
        let worst = study
            .findings
            .iter()
            .enumerate()
            .filter(|(_, finding)| finding.rule == DROP_CODE && finding.value.is_some())
            .filter(|(_, finding)| match finding.place {
                Place::Load(at) => load.map_or_else(|| loads.contains(&at), |load| load == at),
                _ => false,
            })
            .max_by(|(_, a), (_, b)| a.severity().total_cmp(&b.severity()));
        match worst.filter(|_| study.every.is_some()) {
            Some((number, _)) if *study.boat_of(number) != study.boat => Self {
                study: Arc::new(study.with_boat(study.boat_of(number))),
                ..self
            },
            _ => self,
        }
    }

    /// What a list covers: everything any boat has, or one boat.
    pub fn scope(&self) -> Scope {
        let boat = match self.addresses.boat() {
            AskedBoat::Every => None,
            _ => Some((self.study.boat.clone(), self.boat_words())),
        };
        Scope {
            boat,
            ..Scope::default()
        }
    }
}

/// The thing that a segment or a query value names.
///
/// # Errors
/// [`Error::NotFound`] naming what was asked for.
pub fn named<T: Identified>(table: &Table<T>, kind: &str, id: &str) -> Result<Index<T>, Error> {
    table
        .find(id)
        .ok_or_else(|| Error::NotFound(format!("This boat model has no {kind} “{id}”.")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_keeps_the_boat_and_escapes_every_part() {
        let boat = AskedBoat::Options(vec!["a b".to_owned(), "c".to_owned()]);
        let addresses = Addresses::new("launch", boat);
        assert_eq!(
            addresses.with(
                &["circuits", "14/2?"],
                &[("state", "at night"), ("load", "")]
            ),
            "/models/launch/circuits/14%2F2%3F?options=a%20b%2Cc&state=at%20night"
        );
        let every = addresses.of_boat(AskedBoat::Every);
        assert_eq!(every.to(&[]), "/models/launch");
    }

    #[test]
    fn a_hull_and_options_together_are_refused() {
        let query = |hull: &str, options: &str| BoatQuery {
            hull: hull.to_owned(),
            options: Some(options.to_owned()),
        };
        assert_eq!(query(" ", " , ").asked().unwrap(), AskedBoat::Every);
        assert_eq!(
            query("7", "").asked().unwrap(),
            AskedBoat::Hull("7".to_owned())
        );
        assert!(query("7", "a").asked().is_err());
    }
}
