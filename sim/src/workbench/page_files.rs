//! The page's files, carried in the program.
//!
//! Served by `routes` as they are. A test compares the list with the folder.

/// A file of the page.
#[derive(Clone, Copy, Debug)]
pub(super) struct PageFile {
    /// Where it is asked for.
    pub(super) path: &'static str,
    /// What it is.
    pub(super) kind: &'static str,
    /// All of it.
    pub(super) text: &'static str,
}

const HTML: &str = "text/html; charset=utf-8";
const CSS: &str = "text/css; charset=utf-8";
const SCRIPT: &str = "text/javascript; charset=utf-8";
const PICTURE: &str = "image/svg+xml";

macro_rules! page {
    ($kind:expr, $name:literal) => {
        PageFile {
            path: concat!("/", $name),
            kind: $kind,
            text: include_str!(concat!("page/", $name)),
        }
    };
}

/// All of them; the first one is what is shown at the root.
pub(super) const PAGE_FILES: [PageFile; 31] = [
    page!(HTML, "index.html"),
    page!(CSS, "workbench.css"),
    page!(PICTURE, "icon.svg"),
    page!(SCRIPT, "workbench.js"),
    page!(SCRIPT, "candidate.js"),
    page!(SCRIPT, "chart.js"),
    page!(SCRIPT, "curve_picture.js"),
    page!(SCRIPT, "differences_table.js"),
    page!(SCRIPT, "elements.js"),
    page!(SCRIPT, "feel.js"),
    page!(SCRIPT, "felt_picture.js"),
    page!(SCRIPT, "files.js"),
    page!(SCRIPT, "handle_table.js"),
    page!(SCRIPT, "handles.js"),
    page!(SCRIPT, "held_back.js"),
    page!(SCRIPT, "kept.js"),
    page!(SCRIPT, "notices.js"),
    page!(SCRIPT, "response_pictures.js"),
    page!(SCRIPT, "riding.js"),
    page!(SCRIPT, "scale.js"),
    page!(SCRIPT, "server.js"),
    page!(SCRIPT, "stand_choices.js"),
    page!(SCRIPT, "standing.js"),
    page!(SCRIPT, "steps.js"),
    page!(SCRIPT, "stops_table.js"),
    page!(SCRIPT, "strip.js"),
    page!(SCRIPT, "thumb_stick.js"),
    page!(SCRIPT, "timing.js"),
    page!(SCRIPT, "values.js"),
    page!(SCRIPT, "verdict.js"),
    page!(SCRIPT, "words.js"),
];

/// The file that is asked for at `path`.
pub(super) fn page_file(path: &str) -> Option<&'static PageFile> {
    let path = if path == "/" { "/index.html" } else { path };
    PAGE_FILES.iter().find(|file| file.path == path)
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn every_file_of_the_folder_is_carried_and_no_other() {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/src/workbench/page");
        let there: BTreeSet<String> = std::fs::read_dir(folder)
            .unwrap()
            .map(|entry| format!("/{}", entry.unwrap().file_name().into_string().unwrap()))
            .collect();
        let carried: BTreeSet<String> =
            PAGE_FILES.iter().map(|file| file.path.to_owned()).collect();
        assert_eq!(there, carried);
    }

    #[test]
    fn nothing_of_the_page_comes_from_elsewhere() {
        for file in PAGE_FILES {
            for word in ["src=\"http", "href=\"http", "url(http", "from \"http", "import(\"http"] {
                assert!(!file.text.contains(word), "{}: {word}", file.path);
            }
        }
    }
}
