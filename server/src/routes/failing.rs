//! Limits that fail and limits that could not be evaluated.

use axum::extract::Query;
use axum::extract::rejection::QueryRejection;
use axum::response::Response;

use crate::answer;
use crate::error::Error;
use crate::pages::{FailingPage, Filter};
use crate::view::View;

/// `GET /models/{id}/failing?rule=&zone=&moulding=&option=&sort=`
pub async fn failing(
    view: View,
    query: Result<Query<Filter>, QueryRejection>,
) -> Result<Response, Error> {
    let Query(filter) = query?;
    answer::page(&FailingPage::new(&view, &filter)?)
}
