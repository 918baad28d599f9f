//! Sizes for all conductors of a model.

use axum::response::Response;

use crate::answer;
use crate::error::Error;
use crate::pages::AllSizesPage;
use crate::view::View;

/// `GET /models/{id}/sizes`
pub async fn sizes(view: View) -> Result<Response, Error> {
    answer::worked_out(move || Ok(AllSizesPage::new(&view))).await
}
