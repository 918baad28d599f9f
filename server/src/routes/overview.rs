//! The first page of a boat model, and what it does not state yet.

use axum::extract::State;
use axum::response::Response;

use crate::answer;
use crate::error::Error;
use crate::pages::{GapsPage, OverviewPage};
use crate::router::AppState;
use crate::view::View;

/// `GET /models/{id}`
pub async fn overview(State(state): State<AppState>, view: View) -> Result<Response, Error> {
    let revisions = state.store.revisions(&view.head.model_id).await?;
    answer::page(&OverviewPage::new(&view, revisions))
}

/// `GET /models/{id}/gaps`
pub async fn gaps(view: View) -> Result<Response, Error> {
    answer::worked_out(move || Ok(GapsPage::new(&view))).await
}
