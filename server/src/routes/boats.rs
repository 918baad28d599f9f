//! Buildable boats: how many, which have what, and ordered hulls.

use axum::extract::Query;
use axum::extract::rejection::QueryRejection;
use axum::response::Response;

use crate::answer;
use crate::error::{self, Error};
use crate::orders::Orders;
use crate::pages::{AskedBoats, BoatsPage};

/// `GET /models/{id}/boats`: the address carries the question, so that the answer can be sent. The
/// form names every option; the reader is led on to the address that names only those asked for.
pub async fn boats(
    orders: Orders,
    query: Result<Query<Vec<(String, String)>>, QueryRejection>,
) -> Result<Response, Error> {
    let Query(query) = query?;
    let asked = AskedBoats::of(&orders, &query);
    if asked.came_from_form && asked.faults.is_empty() {
        return Ok(answer::go_to(&asked.address(&orders)));
    }
    let page = BoatsPage::new(&orders, &asked);
    match asked.faults.is_empty() {
        true => answer::page(&page),
        false => error::form_again(&page),
    }
}
