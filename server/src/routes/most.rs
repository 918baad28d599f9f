//! The most of everything on any buildable boat.

use axum::response::Response;

use crate::answer;
use crate::error::Error;
use crate::pages::MostPage;
use crate::view::View;

/// `GET /models/{id}/most`
pub async fn most(view: View) -> Result<Response, Error> {
    // Heat takes solving boats: not on a thread that serves others.
    let page = tokio::task::spawn_blocking(move || MostPage::new(&view)).await;
    answer::page(&page.map_err(|broken| Error::Answer(Box::new(broken)))?)
}
