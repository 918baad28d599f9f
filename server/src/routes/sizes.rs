//! Sizes for all conductors of a model.

use axum::response::Response;

use crate::answer;
use crate::error::Error;
use crate::pages::AllSizesPage;
use crate::view::View;

/// `GET /models/{id}/sizes`
pub async fn sizes(view: View) -> Result<Response, Error> {
    // Each round is a study of every boat: not on a thread that serves others.
    let page = tokio::task::spawn_blocking(move || AllSizesPage::new(&view)).await;
    answer::page(&page.map_err(|broken| Error::Answer(Box::new(broken)))?)
}
