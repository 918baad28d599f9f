//! The quick calculation.

use std::collections::BTreeMap;

use axum::extract::Query;
use axum::extract::rejection::QueryRejection;
use axum::response::Response;

use crate::answer;
use crate::error::{self, Error};
use crate::pages::OneCircuitPage;
use crate::shown::Setting;

/// `GET /one-circuit`: the address carries the question, so that the answer can be sent.
pub async fn one_circuit(
    query: Result<Query<BTreeMap<String, String>>, QueryRejection>,
    setting: Setting,
) -> Result<Response, Error> {
    let Query(asked) = query?;
    let page = OneCircuitPage::new(asked, setting);
    match page.is_faulty() {
        true => error::form_again(&page),
        false => answer::page(&page),
    }
}
