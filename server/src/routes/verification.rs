//! What was held against something outside.

use axum::extract::Query;
use axum::extract::rejection::QueryRejection;
use axum::response::Response;
use serde::Deserialize;

use crate::answer;
use crate::error::Error;
use crate::pages::VerificationPage;

/// Query of [`verification`].
#[derive(Debug, Deserialize)]
pub struct Asked {
    #[serde(default)]
    kind: String,
}

/// `GET /verification?kind=`
pub async fn verification(query: Result<Query<Asked>, QueryRejection>) -> Result<Response, Error> {
    let Query(Asked { kind }) = query?;
    let page =
        VerificationPage::new(&kind).map_err(|broken| Error::Answer(broken.to_string().into()))?;
    let page =
        page.ok_or_else(|| Error::NotFound(format!("There is no kind of case “{kind}”.")))?;
    answer::page(&page)
}
