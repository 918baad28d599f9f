//! Options of a boat model.

use axum::extract::Path;
use axum::response::Response;
use harness_core::model::OptionIndex;

use crate::answer;
use crate::error::Error;
use crate::orders::Orders;
use crate::pages::{OptionPage, OptionsPage};

/// `GET /models/{id}/options`
pub async fn list(orders: Orders) -> Result<Response, Error> {
    answer::page(&OptionsPage::new(&orders))
}

/// `GET /models/{id}/options/{code}`
pub async fn option(
    orders: Orders,
    Path((_, code)): Path<(String, String)>,
) -> Result<Response, Error> {
    let found = orders.model.options.find(&code).ok_or_else(|| {
        let known = match orders.codes.is_empty() {
            true => "none".to_owned(),
            false => orders.codes.join(", "),
        };
        Error::NotFound(format!(
            "This boat model has no option “{code}”. Its options: {known}."
        ))
    })?;
    answer::page(&OptionPage::new(&orders, OptionIndex(found.number())))
}
