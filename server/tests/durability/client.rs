//! A person's browser or a program, as far as these checks need one.

use std::time::Duration;

use serde_json::Value;
use ureq::Agent;
use ureq::http::Response;

/// Longer than the service lets any answer take.
const PATIENCE: Duration = Duration::from_secs(60);

/// One connection to the service.
pub struct Client {
    agent: Agent,
    to: String,
}

/// What came back.
pub struct Answer {
    pub status: u16,
    /// Where the reader is sent on to.
    pub location: String,
    pub text: String,
}

/// Why nothing came back: for these checks, the service is gone.
pub type Gone = ureq::Error;

impl Client {
    /// To the service at `http://address:port`.
    pub fn new(to: &str) -> Self {
        let config = Agent::config_builder()
            .timeout_global(Some(PATIENCE))
            .http_status_as_error(false)
            .max_redirects(0)
            .build();
        Self {
            agent: config.into(),
            to: to.to_owned(),
        }
    }

    pub fn get(&self, path: &str) -> Result<Answer, Gone> {
        read(self.agent.get(format!("{}{path}", self.to)).call()?)
    }

    /// Sends the fields of a form, as a page of the service would.
    pub fn form<'f>(
        &self,
        path: &str,
        fields: impl IntoIterator<Item = (&'f str, &'f str)>,
    ) -> Result<Answer, Gone> {
        let request = self.agent.post(format!("{}{path}", self.to));
        let request = request.header("sec-fetch-site", "same-origin");
        read(request.send_form(fields)?)
    }

    pub fn post(&self, path: &str, body: &Value) -> Result<Answer, Gone> {
        let request = self.agent.post(format!("{}{path}", self.to));
        let request = request.header("content-type", "application/json");
        read(request.send(body.to_string())?)
    }

    /// `body` goes out as it stands: it is JSON already.
    pub fn put(&self, path: &str, body: &str) -> Result<Answer, Gone> {
        let request = self.agent.put(format!("{}{path}", self.to));
        let request = request.header("content-type", "application/json");
        read(request.send(body)?)
    }
}

impl Answer {
    /// The number of the revision whose page the reader is sent on to.
    pub fn saved(&self) -> Option<i64> {
        let (_, number) = self.location.rsplit_once("/revisions/")?;
        (self.status == 303).then(|| number.parse().ok()).flatten()
    }

    pub fn json(&self) -> Value {
        serde_json::from_str(&self.text).unwrap_or_else(|_| panic!("no JSON: {}", self.text))
    }
}

fn read(response: Response<ureq::Body>) -> Result<Answer, Gone> {
    let location = response.headers().get("location");
    let location = location.map_or("", |value| value.to_str().unwrap_or(""));
    Ok(Answer {
        status: response.status().as_u16(),
        location: location.to_owned(),
        text: response
            .into_body()
            .with_config()
            .limit(u64::MAX)
            .read_to_string()?,
    })
}
