//! `GET /health`: whether the service can do its work.

use axum::extract::State;
use axum::response::Response;

use crate::answer;
use crate::error::Error;
use crate::router::AppState;

/// `{"status": "ok"}` when the store can be read and written.
pub async fn health(State(state): State<AppState>) -> Result<Response, Error> {
    state.store.check().await.map_err(Error::StoreDown)?;
    answer::json(&serde_json::json!({ "status": "ok" }))
}
