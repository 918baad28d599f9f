//! The most of everything on any buildable boat.

use axum::response::Response;

use crate::answer;
use crate::error::Error;
use crate::pages::MostPage;
use crate::view::View;

/// `GET /models/{id}/most`
pub async fn most(view: View) -> Result<Response, Error> {
    answer::worked_out(move || Ok(MostPage::new(&view))).await
}
