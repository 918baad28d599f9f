//! What clears a limit that fails.

use axum::extract::Query;
use axum::extract::rejection::QueryRejection;
use axum::response::Response;

use crate::answer;
use crate::error::Error;
use crate::pages::{AskedLimit, ClearsPage};
use crate::view::View;

/// `GET /models/{id}/clears?rule=&at=&set=`
pub async fn clears(
    view: View,
    query: Result<Query<AskedLimit>, QueryRejection>,
) -> Result<Response, Error> {
    let Query(asked) = query?;
    answer::worked_out(move || ClearsPage::new(&view, &asked)).await
}
