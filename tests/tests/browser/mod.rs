//! A workbench with a browser before it: started, looked at, driven and ended.
//!
//! Used by `workbench.rs`. The browser is Debian's Chromium, driven over WebDriver (W3C, "WebDriver", level 1).

use std::io::{BufRead as _, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdout, Command, Stdio};
use std::time::{Duration, Instant};

use fantoccini::actions::{InputSource as _, KeyAction, KeyActions, MouseActions, PointerAction};
use fantoccini::elements::Element;
use fantoccini::{Client, ClientBuilder, Locator};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};
use tempfile::TempDir;
use tokio::runtime::Runtime;

/// Longer than anything here takes, on a busy machine.
const PATIENCE: Duration = Duration::from_secs(20);

const LOOKS_EVERY: Duration = Duration::from_millis(20);

const LANTERN: &str = include_str!("../../../examples/boards/lantern.toml");

/// The program, as it is given to people: built, where it is not yet.
fn program() -> PathBuf {
    // This test lies in <target>/<profile>/deps.
    let test = std::env::current_exe().unwrap();
    let target = test.ancestors().nth(3).unwrap();
    let built = Command::new(env!("CARGO"))
        .args(["build", "--quiet", "--release", "-p", "homestretch-sim", "--bin", "homestretch"])
        .env("CARGO_TARGET_DIR", target)
        .current_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join(".."))
        .status();
    assert!(built.unwrap().success(), "the program cannot be built");
    target.join("release/homestretch")
}

fn line_of(out: &mut BufReader<ChildStdout>) -> String {
    let mut line = String::new();
    out.read_line(&mut line).unwrap();
    line
}

/// A folder with a board, and the program that serves it.
pub(crate) struct Server {
    pub(crate) folder: TempDir,
    program: PathBuf,
    child: Option<Child>,
    pub(crate) url: String,
}

impl Server {
    pub(crate) fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("lantern.toml"), LANTERN).unwrap();
        let mut server = Self { folder, program: program(), child: None, url: String::new() };
        server.start();
        server
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn command(&self) -> Command {
        let mut command = Command::new(&self.program);
        command.arg("workbench").arg("--board").arg(self.path("lantern.toml"));
        command
    }

    /// Starts it, at the address that it had before.
    pub(crate) fn start(&mut self) {
        let mut command = self.command();
        if let Some(port) = self.port() {
            command.args(["--port", port]);
        }
        command.arg("--json").stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::null());
        let mut child = command.spawn().unwrap();
        let line = line_of(&mut BufReader::new(child.stdout.take().unwrap()));
        let started: Value = serde_json::from_str(&line).unwrap();
        self.url = started["url"].as_str().unwrap().to_owned();
        self.child = Some(child);
    }

    pub(crate) fn port(&self) -> Option<&str> {
        self.url.trim_end_matches('/').rsplit(':').next().filter(|port| !port.is_empty())
    }

    /// A second one at the same port; how it ends and what it says.
    pub(crate) fn started_again(&self) -> (Option<i32>, String) {
        let output = self.command().args(["--port", self.port().unwrap()]).output().unwrap();
        (output.status.code(), String::from_utf8(output.stderr).unwrap())
    }

    /// As if its power had been cut.
    pub(crate) fn kill(&mut self) {
        if let Some(mut child) = self.child.take() {
            child.kill().unwrap();
            child.wait().unwrap();
        }
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        self.kill();
    }
}

/// What drives browsers.
pub(crate) struct Driver {
    child: Child,
    url: String,
    /// It is told to nobody, and has to be read so that the driver does not wait for it.
    _out: BufReader<ChildStdout>,
}

impl Driver {
    pub(crate) fn new() -> Self {
        let started = Command::new("chromedriver")
            .arg("--port=0")
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn();
        let mut child = started.unwrap_or_else(|error| {
            panic!("chromedriver cannot be started ({error}): install the packages chromium and chromium-driver")
        });
        let mut out = BufReader::new(child.stdout.take().unwrap());
        let port = loop {
            let line = line_of(&mut out);
            assert!(!line.is_empty(), "chromedriver ended before it had a port");
            if let Some((_, port)) = line.trim().trim_end_matches('.').split_once("on port ")
                && line.contains("successfully")
            {
                break port.to_owned();
            }
        };
        Self { child, url: format!("http://127.0.0.1:{port}"), _out: out }
    }

    /// A browser window that shows `url`: a desk's, or a phone's.
    pub(crate) fn page(&self, url: &str, phone: bool) -> Page {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        let downloads = tempfile::tempdir().unwrap();
        let mut options = json!({
            "args": ["--headless=new", "--no-sandbox", "--disable-gpu", "--window-size=1440,1000"],
            "prefs": { "download.default_directory": downloads.path(), "download.prompt_for_download": false },
        });
        if phone {
            options["mobileEmulation"] =
                json!({ "deviceMetrics": { "width": 390, "height": 844, "pixelRatio": 2.0 } });
        }
        let capabilities = json!({ "goog:chromeOptions": options });
        let client = runtime.block_on(async {
            ClientBuilder::new(HttpConnector::new())
                .capabilities(capabilities.as_object().unwrap().clone())
                .connect(&self.url)
                .await
                .unwrap_or_else(|error| panic!("no browser: {error}; install the package chromium"))
        });
        let page = Page { runtime, client: Some(client), downloads };
        page.go(url);
        page
    }
}

impl Drop for Driver {
    fn drop(&mut self) {
        // Its browsers have been closed by their pages.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A page in a browser.
pub(crate) struct Page {
    runtime: Runtime,
    client: Option<Client>,
    pub(crate) downloads: TempDir,
}

impl Page {
    fn client(&self) -> &Client {
        self.client.as_ref().expect("it is closed at the very end")
    }

    /// Goes there, and waits until all is painted.
    pub(crate) fn go(&self, url: &str) {
        self.runtime.block_on(self.client().goto(url)).unwrap();
        self.wait("the page is painted", "return document.documentElement.dataset.painted");
    }

    pub(crate) fn reload(&self) {
        self.runtime.block_on(self.client().refresh()).unwrap();
        self.wait("the page is painted", "return document.documentElement.dataset.painted");
    }

    /// What a script of ours says about the page.
    pub(crate) fn says(&self, script: &str) -> Value {
        self.runtime.block_on(self.client().execute(script, Vec::new())).unwrap()
    }

    /// Waits until a script says something other than nothing, no or zero; what it says.
    pub(crate) fn wait(&self, what: &str, script: &str) -> Value {
        let began = Instant::now();
        loop {
            let said = self.says(script);
            if !matches!(said, Value::Null | Value::Bool(false))
                && said != json!(0)
                && said != json!("")
            {
                return said;
            }
            assert!(began.elapsed() < PATIENCE, "in vain: {what}");
            std::thread::sleep(LOOKS_EVERY);
        }
    }

    fn named(test: &str) -> String {
        format!("document.querySelector('[data-test=\"{test}\"]')")
    }

    /// The text of a part of the page.
    pub(crate) fn text(&self, test: &str) -> String {
        let text = self.says(&format!("return {}?.textContent", Self::named(test)));
        text.as_str().unwrap_or_else(|| panic!("there is no {test}")).to_owned()
    }

    /// What stands in a field.
    pub(crate) fn field(&self, test: &str) -> String {
        self.says(&format!("return {}.value", Self::named(test))).as_str().unwrap().to_owned()
    }

    /// Waits until the text of a part says `words`.
    pub(crate) fn wait_for_text(&self, test: &str, words: &str) {
        let script =
            format!("return ({}?.textContent ?? '').includes({})", Self::named(test), json!(words));
        let began = Instant::now();
        while self.says(&script) != json!(true) {
            let now = self.says(&format!("return {}?.textContent", Self::named(test)));
            assert!(began.elapsed() < PATIENCE, "{test} does not say `{words}` but {now}");
            std::thread::sleep(LOOKS_EVERY);
        }
    }

    /// Waits until a field says `value`.
    pub(crate) fn wait_for_field(&self, test: &str, value: &str) {
        self.wait(
            &format!("{test} says {value}"),
            &format!("return {}.value === {}", Self::named(test), json!(value)),
        );
    }

    fn element(&self, test: &str) -> Element {
        let css = format!("[data-test=\"{test}\"]");
        let found = self.runtime.block_on(self.client().find(Locator::Css(&css)));
        found.unwrap_or_else(|error| panic!("{test}: {error}"))
    }

    pub(crate) fn click(&self, test: &str) {
        // Into the middle of the window: what stays at its edge would lie over it.
        self.says(&format!("{}.scrollIntoView({{block:'center'}})", Self::named(test)));
        self.runtime.block_on(self.element(test).click()).unwrap();
    }

    /// Types into a part of the page, or presses keys there.
    pub(crate) fn keys(&self, test: &str, keys: &str) {
        self.runtime.block_on(self.element(test).send_keys(keys)).unwrap();
    }

    /// Presses keys wherever the keyboard is.
    pub(crate) fn keys_here(&self, keys: &str) {
        self.runtime.block_on(async {
            self.client().active_element().await.unwrap().send_keys(keys).await.unwrap();
        });
    }

    /// Holds a key down for so long, where the keyboard is.
    pub(crate) fn hold(&self, key: char, held_for: Duration) {
        let keys = KeyActions::new("keys".to_owned())
            .then(KeyAction::Down { value: key })
            .then(KeyAction::Pause { duration: held_for })
            .then(KeyAction::Up { value: key });
        self.runtime.block_on(self.client().perform_actions(keys)).unwrap();
    }

    /// The part of the page that the keyboard is on.
    pub(crate) fn keyboard_is_on(&self) -> String {
        let test = self.says("return document.activeElement.dataset.test ?? ''");
        test.as_str().unwrap().to_owned()
    }

    /// Puts a text into a field as a paste does, and leaves with Enter.
    pub(crate) fn paste(&self, test: &str, text: &str) {
        self.click(test);
        self.says(&format!(
            "const field = {}; field.select(); document.execCommand('insertText', false, {}) || \
             (field.value = ''); return 0",
            Self::named(test),
            json!(text)
        ));
        self.keys(test, "\u{e007}");
    }

    /// Takes hold of a part and moves it along `path`, steps in pixels, with a pause after each.
    pub(crate) fn drag(&self, test: &str, path: &[(f64, f64)], pause: Duration) {
        self.says(&format!("{}.scrollIntoView({{block:'center'}})", Self::named(test)));
        let place = self.says(&format!(
            "const box = {}.getBoundingClientRect(); \
             return [box.x + box.width / 2, box.y + box.height / 2]",
            Self::named(test)
        ));
        let at = |axis: usize| place[axis].as_f64().unwrap();
        let go = |x, y| PointerAction::MoveTo { duration: Some(Duration::ZERO), x, y };
        let button = fantoccini::actions::MOUSE_BUTTON_LEFT;
        let (mut x, mut y) = (at(0), at(1));
        let mut mouse = MouseActions::new("mouse".to_owned())
            .then(go(x, y))
            .then(PointerAction::Down { button });
        for (right, down) in path {
            (x, y) = (x + right, y + down);
            mouse = mouse.then(go(x, y)).then(PointerAction::Pause { duration: pause });
        }
        let mouse = mouse.then(PointerAction::Up { button });
        self.runtime.block_on(self.client().perform_actions(mouse)).unwrap();
    }

    /// What the server says of board and candidate.
    pub(crate) fn board(&self) -> Value {
        let script = "const done = arguments[0]; \
                      fetch('/api/board').then((answer) => answer.json()).then(done)";
        self.runtime.block_on(self.client().execute_async(script, Vec::new())).unwrap()
    }

    /// Waits until a file has been saved.
    pub(crate) fn saved(&self, name: &str) -> PathBuf {
        let path = self.downloads.path().join(name);
        let began = Instant::now();
        while !path.exists() {
            assert!(began.elapsed() < PATIENCE, "{name} was not saved");
            std::thread::sleep(LOOKS_EVERY);
        }
        path
    }
}

impl Drop for Page {
    fn drop(&mut self) {
        if let Some(client) = self.client.take() {
            // A browser that is gone by itself needs no closing.
            let _ = self.runtime.block_on(client.close());
        }
    }
}
