//! Circuits.

use axum::extract::rejection::QueryRejection;
use axum::extract::{Path, Query};
use axum::response::Response;
use serde::Deserialize;

use crate::answer;
use crate::error::Error;
use crate::pages::{AskedOfCircuit, CircuitPage, CircuitsPage, SizesPage};
use crate::view::{View, named};

/// `GET /models/{id}/circuits/{number}/sizes`
pub async fn sizes(
    view: View,
    Path((_, number)): Path<(String, String)>,
) -> Result<Response, Error> {
    let circuit = named(&view.study.model.circuits, "circuit", &number)?;
    let view = view.at_worst(circuit, None);
    answer::worked_out(move || Ok(SizesPage::new(&view, circuit))).await
}

/// Query of [`circuit`].
#[derive(Debug, Deserialize)]
pub struct Asked {
    #[serde(default)]
    load: String,
    #[serde(default)]
    state: String,
}

/// `GET /models/{id}/circuits`
pub async fn list(view: View) -> Result<Response, Error> {
    answer::page(&CircuitsPage::new(&view))
}

/// `GET /models/{id}/circuits/{number}?load=&state=`
pub async fn circuit(
    view: View,
    Path((_, number)): Path<(String, String)>,
    query: Result<Query<Asked>, QueryRejection>,
) -> Result<Response, Error> {
    let Query(asked) = query?;
    let model = &view.study.model;
    let circuit = named(&model.circuits, "circuit", &number)?;
    let stated = |text: &str| (!text.is_empty()).then(|| text.to_owned());
    let load = stated(&asked.load).map(|id| named(&model.loads, "load", &id));
    let state = stated(&asked.state).map(|id| named(&model.states, "operating state", &id));
    let asked = AskedOfCircuit {
        load: load.transpose()?,
        state: state.transpose()?,
    };
    let view = view.at_worst(circuit, asked.load);
    answer::page(&CircuitPage::new(&view, circuit, asked))
}
