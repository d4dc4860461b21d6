//! A report: one file with the pictures, the numbers, the inputs and the version, for a friend or a forum.
//!
//! Nothing in it is fetched from elsewhere: pictures are drawn into the page, inputs stand in it as text.
//! Of paths only the names of files are kept, since where they lay says who rides. Filled by `cli` and
//! `workbench` with what the other rooms of `report` made.

use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use maud::{DOCTYPE, Markup, PreEscaped, html};
use serde_json::Value;

use super::picture::Picture;
use crate::atomic_file::AtomicFile;

/// What the page looks like: ink on paper, one column, to be printed as well.
const STYLE: &str = "
:root { color-scheme: light; }
body { margin: 0 auto; max-width: 76rem; padding: 1.5rem; background: #f7f7f4; color: #1c2733;
  font: 1rem/1.5 'DejaVu Sans', Verdana, sans-serif; }
h1 { font-size: 1.5rem; margin: 0; } h2 { font-size: 1.15rem; margin: 2rem 0 .5rem; }
.under { color: #55606b; margin: .2rem 0 0; }
figure { margin: 1rem 0; } figcaption { color: #55606b; }
svg { max-width: 100%; height: auto; background: #fff; }
pre { background: #fff; border: 1px solid #d3d8dd; padding: .8rem; font-size: .85rem;
  white-space: pre-wrap; overflow-wrap: anywhere; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; } th, td { border-bottom: 1px solid #d3d8dd; padding: .15rem .8rem .15rem 0;
  text-align: left; font-weight: normal; } td { font-variant-numeric: tabular-nums; }
summary { cursor: pointer; } footer { margin-top: 2rem; border-top: 1px solid #d3d8dd; color: #55606b; }
";

/// What stands at the foot of each.
const CAUTION: &str = "Made by calculation from what its inputs say, not by measuring a board. Have what you build \
    looked at by somebody qualified, keep the limits of the motor controller and of the protection board set, take \
    first runs with the wheels off the ground and with protective gear, never charge unattended; local codes decide.";

/// A part of a report.
#[derive(Clone, Debug)]
enum Part {
    Picture { caption: String, svg: String },
    Words { heading: String, text: String },
    Numbers { heading: String, numbers: Value },
    Input { name: String, text: String },
}

/// A report that is being put together.
#[derive(Clone, Debug)]
pub struct Report {
    title: String,
    result: String,
    parts: Vec<Part>,
}

impl Report {
    /// A report with a title, and what came of it in a line.
    #[must_use]
    pub fn new(title: impl Into<String>, result: impl Into<String>) -> Self {
        Self { title: title.into(), result: result.into(), parts: Vec::new() }
    }

    /// With a picture.
    #[must_use]
    pub fn picture(self, caption: &str, picture: &Picture) -> Self {
        self.drawing(caption, picture.svg())
    }

    /// With a drawing that is SVG text of our own making.
    #[must_use]
    pub fn drawing(self, caption: &str, svg: &str) -> Self {
        self.with(Part::Picture { caption: caption.to_owned(), svg: svg.to_owned() })
    }

    /// With words, as a terminal shows them.
    #[must_use]
    pub fn words(self, heading: &str, text: impl Into<String>) -> Self {
        self.with(Part::Words { heading: heading.to_owned(), text: text.into() })
    }

    /// With the numbers of an object, those within others by both names.
    #[must_use]
    pub fn numbers(self, heading: &str, numbers: Value) -> Self {
        self.with(Part::Numbers { heading: heading.to_owned(), numbers })
    }

    /// With an input, as it was read; the name of its file is kept, not its place.
    #[must_use]
    pub fn input(self, file: &Path, text: impl Into<String>) -> Self {
        self.with(Part::Input { name: file_name(file), text: text.into() })
    }

    /// With inputs that lie in files; a file that is no text is only named.
    #[must_use]
    pub fn inputs<'p>(self, files: impl IntoIterator<Item = &'p PathBuf>) -> Self {
        files.into_iter().fold(self, |report, file| {
            let text = std::fs::read_to_string(file).unwrap_or_else(|_| "(no text)".to_owned());
            report.input(file, text)
        })
    }

    fn with(mut self, part: Part) -> Self {
        self.parts.push(part);
        self
    }

    /// The file's text. `command` is what was asked for, a word each.
    #[must_use]
    pub fn page(&self, command: impl IntoIterator<Item = String>) -> String {
        let command: Vec<_> = command.into_iter().map(|word| file_name(Path::new(&word))).collect();
        let version = env!("CARGO_PKG_VERSION");
        let page = html! {
            (DOCTYPE)
            html lang="en" {
                head {
                    meta charset="utf-8";
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    title { (self.title) }
                    style { (PreEscaped(STYLE)) }
                }
                body {
                    h1 { (self.title) }
                    p.under { (self.result) }
                    p.under { "homestretch " (version) ": " code { (command.join(" ")) } }
                    @for part in &self.parts { (part) }
                    footer { p { (CAUTION) } }
                }
            }
        };
        page.into_string()
    }
}

impl maud::Render for Part {
    fn render(&self) -> Markup {
        match self {
            Self::Picture { caption, svg } => html! {
                figure { (PreEscaped(svg)) figcaption { (caption) } }
            },
            Self::Words { heading, text } => html! { h2 { (heading) } pre { (text) } },
            Self::Numbers { heading, numbers } => html! {
                h2 { (heading) }
                details {
                    summary { "all numbers" }
                    div.wide { table { tbody {
                        @for (name, value) in flat(numbers) { tr { th scope="row" { (name) } td { (value) } } }
                    } } }
                }
            },
            Self::Input { name, text } => html! {
                h2 { "Input: " (name) }
                details { summary { "as it was read" } pre { (text) } }
            },
        }
    }
}

/// Every number of an object under its name, those within others as `outer.inner`.
fn flat(value: &Value) -> Vec<(String, String)> {
    fn gather(name: &str, value: &Value, into: &mut Vec<(String, String)>) {
        match value {
            Value::Object(fields) => {
                for (field, value) in fields {
                    let name =
                        if name.is_empty() { field.clone() } else { format!("{name}.{field}") };
                    gather(&name, value, into);
                }
            }
            Value::String(text) => into.push((name.to_owned(), text.clone())),
            Value::Null => into.push((name.to_owned(), "none".to_owned())),
            Value::Bool(_) | Value::Number(_) | Value::Array(_) => {
                into.push((name.to_owned(), value.to_string()));
            }
        }
    }
    let mut all = Vec::new();
    gather("", value, &mut all);
    all
}

fn file_name(path: &Path) -> String {
    path.file_name()
        .map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned())
}

/// A file for a report, opened before the long run so that a bad path is found at once.
#[derive(Debug)]
pub struct ReportTarget(AtomicFile);

impl ReportTarget {
    /// Opens it; what stands there stays until [`Self::write`].
    ///
    /// # Errors
    /// What the system says.
    pub fn create(path: &Path) -> io::Result<Self> {
        AtomicFile::create(path).map(Self)
    }

    /// Writes the report, whole or not at all, with the program's own command line.
    ///
    /// # Errors
    /// What the system says.
    pub fn write(mut self, report: &Report) -> io::Result<()> {
        self.0.write_all(report.page(std::env::args()).as_bytes())?;
        self.0.finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn page() -> String {
        Report::new("Plank & <Sons>", "93 % to 66 %")
            .drawing("a ride", "<svg viewBox=\"0 0 1 1\"></svg>")
            .words("Told", "a < b")
            .numbers(
                "Numbers",
                serde_json::json!({ "one": 1.5, "home": { "arrived": true, "at": null } }),
            )
            .input(Path::new("/home/plankowner/boards/plank.toml"), "name = \"<x>\"")
            .page(
                ["/usr/bin/homestretch", "ride", "--board", "/home/plankowner/plank.toml"]
                    .map(str::to_owned),
            )
    }

    #[test]
    fn all_that_was_given_stands_in_it_and_no_mark_of_a_page_gets_in() {
        let page = page();
        for expected in [
            "<title>Plank &amp; &lt;Sons&gt;</title>",
            "<svg viewBox=\"0 0 1 1\"></svg>",
            "a &lt; b",
            "home.arrived",
            "name = &quot;&lt;x&gt;&quot;",
            "homestretch ride --board plank.toml",
            env!("CARGO_PKG_VERSION"),
        ] {
            assert!(page.contains(expected), "{expected} in {page}");
        }
    }

    #[test]
    fn it_fetches_nothing_and_tells_no_place() {
        let page = page();
        for unwanted in ["http:", "https:", "src=", "href=", "url(", "<script", "plankowner"] {
            assert!(!page.contains(unwanted), "{unwanted} in {page}");
        }
    }
}
