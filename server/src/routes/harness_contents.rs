//! Which harnesses to make.

use std::collections::BTreeMap;

use axum::extract::rejection::{FormRejection, QueryRejection};
use axum::extract::{Form, Query};
use axum::response::Response;
use percent_encoding::{NON_ALPHANUMERIC, utf8_percent_encode};

use crate::answer;
use crate::error::{self, Error};
use crate::pages::HarnessContentsPage;

/// Longest address that browsers and mail programs pass on whole.
const LONGEST_ADDRESS: usize = 8_000;

/// `GET /harness-contents`: the address carries the question, so that the answer can be sent.
pub async fn harness_contents(
    query: Result<Query<BTreeMap<String, String>>, QueryRejection>,
) -> Result<Response, Error> {
    let Query(asked) = query?;
    shown(asked).await
}

/// `POST /harness-contents`: goes on to the address of the question; one that is too long for an
/// address is answered here.
pub async fn ask(
    form: Result<Form<BTreeMap<String, String>>, FormRejection>,
) -> Result<Response, Error> {
    let Form(asked) = form?;
    let fields: Vec<String> = asked
        .iter()
        .map(|(name, text)| format!("{}={}", escaped(name), escaped(text)))
        .collect();
    let address = format!("/harness-contents?{}", fields.join("&"));
    if address.len() <= LONGEST_ADDRESS {
        Ok(answer::go_to(&address))
    } else {
        shown(asked).await
    }
}

async fn shown(asked: BTreeMap<String, String>) -> Result<Response, Error> {
    // A tangle of orders takes its time: not on a thread that serves others.
    let made = tokio::task::spawn_blocking(move || HarnessContentsPage::new(asked));
    let page = made
        .await
        .map_err(|broken| Error::Answer(Box::new(broken)))?;
    match page.is_faulty() {
        true => error::form_again(&page),
        false => answer::page(&page),
    }
}

fn escaped(text: &str) -> String {
    utf8_percent_encode(text, NON_ALPHANUMERIC).to_string()
}
