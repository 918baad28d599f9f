//! Rules: what is judged, and by whose word.

use axum::extract::Path;
use axum::response::Response;
use harness_core::rules::{self, Rule};

use crate::answer;
use crate::error::Error;
use crate::pages::{RulePage, RulesPage};
use crate::view::View;

/// `GET /rules`
pub async fn all() -> Result<Response, Error> {
    answer::page(&RulesPage::new(None))
}

/// `GET /rules/{code}`
pub async fn rule(Path(code): Path<String>) -> Result<Response, Error> {
    answer::page(&RulePage::new(of_code(&code)?, None))
}

/// `GET /models/{id}/rules`
pub async fn of_model(view: View) -> Result<Response, Error> {
    answer::page(&RulesPage::new(Some(&view)))
}

/// `GET /models/{id}/rules/{code}`
pub async fn rule_of_model(
    view: View,
    Path((_, code)): Path<(String, String)>,
) -> Result<Response, Error> {
    answer::page(&RulePage::new(of_code(&code)?, Some(&view)))
}

fn of_code(code: &str) -> Result<&'static Rule, Error> {
    rules::rule(code).ok_or_else(|| Error::NotFound(format!("There is no rule “{code}”.")))
}
