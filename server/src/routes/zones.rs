//! Zones and runs.

use axum::extract::Path;
use axum::response::Response;

use crate::answer;
use crate::error::Error;
use crate::pages::{RunPage, ZonePage, ZonesPage};
use crate::view::{View, named};

/// `GET /models/{id}/zones`
pub async fn list(view: View) -> Result<Response, Error> {
    answer::page(&ZonesPage::new(&view))
}

/// `GET /models/{id}/zones/{zone}`
pub async fn zone(view: View, Path((_, zone)): Path<(String, String)>) -> Result<Response, Error> {
    let zone = named(&view.study.model.zones, "zone", &zone)?;
    answer::page(&ZonePage::new(&view, zone))
}

/// `GET /models/{id}/runs/{run}`
pub async fn run(view: View, Path((_, run)): Path<(String, String)>) -> Result<Response, Error> {
    let run = named(&view.study.model.runs, "run", &run)?;
    answer::page(&RunPage::new(&view, run))
}
