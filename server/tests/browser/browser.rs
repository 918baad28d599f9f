//! A headless Chromium, driven by chromedriver as a person would drive it.

use std::io::{BufRead, BufReader};
use std::panic::{AssertUnwindSafe, resume_unwind};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use axum::http::Method;
use fantoccini::actions::{InputSource, KeyAction, KeyActions};
use fantoccini::elements::Element;
use fantoccini::key::Key;
use fantoccini::wd::WebDriverCompatibleCommand;
use fantoccini::{Client, ClientBuilder, Locator};
use futures_util::FutureExt;
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};
use url::{ParseError, Url};

/// Nothing of the browser leaves the machine or asks at its first start.
const FLAGS: &[&str] = &[
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--force-color-profile=srgb",
    "--window-size=1280,900",
];
/// How long a page may take before a test gives up: that it is fast is measured elsewhere.
pub const PATIENCE: Duration = Duration::from_secs(60);

/// How often a driver is started before a test gives up.
const STARTS: usize = 5;

/// Whether pages may run script.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Script {
    On,
    Off,
}

/// A program on PATH.
fn program(name: &str) -> Option<PathBuf> {
    let path = std::env::var_os("PATH")?;
    std::env::split_paths(&path)
        .map(|folder| folder.join(name))
        .find(|file| file.is_file())
}

/// Whether a test can run; without browser a message or, where it is required, a failure.
pub fn is_installed() -> bool {
    let axe = Path::new(env!("CARGO_MANIFEST_DIR")).join(super::axe::FILE);
    let missing: Vec<&str> = [
        (program("chromium").is_none(), "chromium (apt)"),
        (program("chromedriver").is_none(), "chromium-driver (apt)"),
        (!axe.is_file(), "axe-core (npm ci in server/tests/browser)"),
    ]
    .into_iter()
    .filter_map(|(is_missing, what)| is_missing.then_some(what))
    .collect();
    if missing.is_empty() {
        return true;
    }
    let missing = missing.join(", ");
    let required = std::env::var("REQUIRE_BROWSER").is_ok_and(|value| value == "1");
    assert!(!required, "REQUIRE_BROWSER=1, but there is no {missing}");
    println!("skipped: there is no {missing}");
    false
}

/// A chromedriver on a port of its own; ended with its value.
struct Driver {
    process: Child,
    address: String,
}

impl Driver {
    /// Starts one. Several started at once may take the same port, one for each kind of address:
    /// those that lose end, and are started again.
    fn start() -> Self {
        let started = (0..STARTS).find_map(|_| Self::try_start());
        started.expect("chromedriver starts and tells its port")
    }

    fn try_start() -> Option<Self> {
        let process = Command::new("chromedriver")
            .arg("--port=0")
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut driver = Self {
            process,
            address: String::new(),
        };
        let told = BufReader::new(driver.process.stdout.take()?);
        let port = told.lines().map_while(Result::ok).find_map(|line| {
            let port = line.split("started successfully on port ").nth(1)?;
            port.trim_end_matches('.').parse::<u16>().ok()
        })?;
        driver.address = format!("http://127.0.0.1:{port}");
        Some(driver)
    }
}

impl Drop for Driver {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// A browser with one window.
pub struct Browser {
    pub client: Client,
    /// Folder of the files that are chosen in its forms.
    files: PathBuf,
}

/// Opens a browser for a job and closes it, also when the job fails.
pub async fn with_browser(script: Script, job: impl AsyncFnOnce(&Browser)) {
    let driver = Driver::start();
    let mut flags = FLAGS.to_vec();
    if script == Script::Off {
        flags.push("--blink-settings=scriptEnabled=false");
    }
    let wanted = json!({
        "browserName": "chrome",
        "goog:chromeOptions": { "args": flags },
        "goog:loggingPrefs": { "browser": "ALL" },
        "timeouts": { "script": PATIENCE.as_millis(), "pageLoad": PATIENCE.as_millis() },
    });
    let client = ClientBuilder::new(HttpConnector::new())
        .capabilities(wanted.as_object().unwrap().clone())
        .connect(&driver.address)
        .await
        .unwrap();
    let browser = Browser {
        client: client.clone(),
        files: std::env::temp_dir().join(format!("harness-sent-{}", driver.process.id())),
    };
    let done = AssertUnwindSafe(job(&browser)).catch_unwind().await;
    client.close().await.unwrap();
    let _ = std::fs::remove_dir_all(&browser.files);
    if let Err(failure) = done {
        resume_unwind(failure);
    }
}

/// A command that chromedriver knows beside the standard ones.
#[derive(Debug)]
struct OfDriver {
    end: &'static str,
    body: Value,
}

impl WebDriverCompatibleCommand for OfDriver {
    fn endpoint(&self, base: &Url, session: Option<&str>) -> Result<Url, ParseError> {
        base.join(&format!(
            "session/{}/{}",
            session.unwrap_or_default(),
            self.end
        ))
    }

    fn method_and_body(&self, _: &Url) -> (Method, Option<String>) {
        (Method::POST, Some(self.body.to_string()))
    }
}

impl Browser {
    async fn of_driver(&self, end: &'static str, body: Value) -> Value {
        self.client.issue_cmd(OfDriver { end, body }).await.unwrap()
    }

    /// A command of the developer tools.
    pub async fn tools(&self, command: &str, params: Value) -> Value {
        let body = json!({ "cmd": command, "params": params });
        self.of_driver("goog/cdp/execute", body).await
    }

    pub async fn open(&self, address: &str) {
        self.client.goto(address).await.unwrap();
    }

    /// The address shown, without host.
    pub async fn address(&self) -> String {
        let shown = self.client.current_url().await.unwrap();
        shown[url::Position::BeforePath..].to_owned()
    }

    /// Sets the size of the page, in CSS pixels.
    pub async fn size(&self, width: u32, height: u32) {
        let size =
            json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": false });
        self.tools("Emulation.setDeviceMetricsOverride", size).await;
    }

    /// Asks for light or dark pages, as the reader's system does.
    pub async fn scheme(&self, scheme: &str) {
        let media = json!([{ "name": "prefers-color-scheme", "value": scheme }]);
        self.tools("Emulation.setEmulatedMedia", json!({ "features": media }))
            .await;
    }

    pub async fn run(&self, script: &str) -> Value {
        self.client.execute(script, Vec::new()).await.unwrap()
    }

    /// What the page complained of since the last call, but for answers of these status codes.
    pub async fn complaints(&self, expected: &[u16]) -> Vec<String> {
        let entries = self.of_driver("se/log", json!({ "type": "browser" })).await;
        let entries = entries.as_array().unwrap().iter();
        entries
            .map(|entry| entry["message"].as_str().unwrap().to_owned())
            .filter(|message| {
                !expected
                    .iter()
                    .any(|status| message.contains(&format!("with a status of {status} ")))
            })
            .collect()
    }

    pub async fn find(&self, css: &str) -> Element {
        let found = self.client.find(Locator::Css(css)).await;
        match found {
            Ok(element) => element,
            Err(_) => panic!(
                "no {css} on {}: {}",
                self.address().await,
                self.text().await
            ),
        }
    }

    pub async fn has(&self, css: &str) -> bool {
        !self
            .client
            .find_all(Locator::Css(css))
            .await
            .unwrap()
            .is_empty()
    }

    /// All text that is seen.
    pub async fn text(&self) -> String {
        let page = self.client.find(Locator::Css("body")).await.unwrap();
        page.text().await.unwrap()
    }

    /// Follows the link or presses the button of the main part with these words.
    pub async fn choose(&self, words: &str) {
        let path = format!("//main//*[self::a or self::button][normalize-space()='{words}']");
        self.click(&path, words).await;
    }

    /// Follows a link of the row of pages.
    pub async fn page(&self, words: &str) {
        let path = format!("//nav[@aria-label='Pages']//a[normalize-space()='{words}']");
        self.click(&path, words).await;
    }

    async fn click(&self, path: &str, words: &str) {
        let found = self.client.find(Locator::XPath(path)).await;
        let Ok(element) = found else {
            panic!(
                "no “{words}” on {}: {}",
                self.address().await,
                self.text().await
            );
        };
        self.leave(async || element.click().await.unwrap()).await;
    }

    /// Does what leads to another page, and waits for that page.
    pub async fn leave(&self, act: impl AsyncFnOnce()) {
        self.run("window.isLeft = false").await;
        act().await;
        let is_next = "return window.isLeft === undefined && document.readyState === 'complete'";
        let until = Instant::now() + PATIENCE;
        // Between two pages there is nothing to ask.
        while !matches!(
            self.client.execute(is_next, Vec::new()).await,
            Ok(Value::Bool(true))
        ) {
            assert!(Instant::now() < until, "still at {}", self.address().await);
            tokio::time::sleep(Duration::from_millis(10)).await;
        }
    }

    /// Types into a field, in place of what it holds.
    pub async fn fill(&self, css: &str, text: &str) {
        let field = self.find(css).await;
        field.clear().await.unwrap();
        field.send_keys(text).await.unwrap();
    }

    pub async fn select(&self, css: &str, value: &str) {
        self.find(css).await.select_by_value(value).await.unwrap();
    }

    /// Chooses a file of this name and content in a file field.
    pub async fn choose_file(&self, css: &str, name: &str, content: impl AsRef<[u8]>) {
        std::fs::create_dir_all(&self.files).unwrap();
        let file = self.files.join(name);
        std::fs::write(&file, content).unwrap();
        let path = file.to_str().unwrap();
        self.find(css).await.send_keys(path).await.unwrap();
    }

    pub async fn value(&self, css: &str) -> String {
        let value = self.find(css).await.prop("value").await.unwrap();
        value.unwrap_or_default()
    }

    /// Presses keys one after the other, into whatever has the focus.
    pub async fn press(&self, keys: &[Key]) {
        let mut board = KeyActions::new("keys".to_owned());
        for key in keys {
            let value = char::from(*key);
            board = board
                .then(KeyAction::Down { value })
                .then(KeyAction::Up { value });
        }
        self.client.perform_actions(board).await.unwrap();
    }

    /// Goes one element back.
    pub async fn back_tab(&self) {
        let (shift, tab) = (char::from(Key::Shift), char::from(Key::Tab));
        let board = KeyActions::new("keys".to_owned())
            .then(KeyAction::Down { value: shift })
            .then(KeyAction::Down { value: tab })
            .then(KeyAction::Up { value: tab })
            .then(KeyAction::Up { value: shift });
        self.client.perform_actions(board).await.unwrap();
    }

    /// Types text into whatever has the focus.
    pub async fn type_text(&self, text: &str) {
        let mut board = KeyActions::new("keys".to_owned());
        for value in text.chars() {
            board = board
                .then(KeyAction::Down { value })
                .then(KeyAction::Up { value });
        }
        self.client.perform_actions(board).await.unwrap();
    }
}
