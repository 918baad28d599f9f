//! Search: any word of a name or id.

use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State};
use axum::response::Response;
use serde::Deserialize;

use crate::answer;
use crate::error::Error;
use crate::pages::SearchPage;
use crate::router::AppState;

/// Query of [`search`].
#[derive(Debug, Deserialize)]
pub struct Asked {
    #[serde(default)]
    q: String,
}

/// `GET /search?q=`: boat models whose name or short name holds every word asked for.
pub async fn search(
    State(state): State<AppState>,
    query: Result<Query<Asked>, QueryRejection>,
) -> Result<Response, Error> {
    let Query(Asked { q }) = query?;
    let words: Vec<String> = q.split_whitespace().map(str::to_lowercase).collect();
    let mut found = state.store.models().await?;
    found.retain(|model| {
        let text = format!("{} {}", model.name.to_lowercase(), model.model_id);
        !words.is_empty() && words.iter().all(|word| text.contains(word))
    });
    answer::page(&SearchPage::new(&q, found))
}
