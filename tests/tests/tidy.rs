//! What a reader of this project relies on, held by tests: sizes, names, layers, lists.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test may stop where it stands"
)]

use harness_core::rules::RULES;
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// Longest source file; beyond it there is more than one thing in it.
const LONGEST_FILE: usize = 600;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .unwrap()
        .to_owned()
}

/// Every file below a folder whose name ends so, in order.
fn files(folder: &str, ending: &str) -> Vec<PathBuf> {
    fn walk(folder: &Path, ending: &str, found: &mut Vec<PathBuf>) {
        let mut entries: Vec<_> = fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .collect();
        entries.sort();
        for path in entries {
            if path.is_dir() {
                walk(&path, ending, found);
            } else if path.to_string_lossy().ends_with(ending) {
                found.push(path);
            }
        }
    }
    let mut found = Vec::new();
    walk(&root().join(folder), ending, &mut found);
    assert!(!found.is_empty(), "no {ending} file below {folder}");
    found
}

fn sources() -> Vec<PathBuf> {
    let crates = ["harness-core/src", "server/src", "tests/src", "tests/tests"];
    crates
        .iter()
        .flat_map(|folder| files(folder, ".rs"))
        .collect()
}

fn text(path: &Path) -> String {
    fs::read_to_string(path).unwrap()
}

/// A path as a reader writes it.
fn shown(path: &Path) -> String {
    path.strip_prefix(root())
        .unwrap()
        .to_string_lossy()
        .into_owned()
}

#[test]
fn no_source_file_is_longer_than_one_thing() {
    let long: Vec<_> = sources()
        .into_iter()
        .map(|path| (text(&path).lines().count(), shown(&path)))
        .filter(|(lines, _)| *lines > LONGEST_FILE)
        .collect();
    assert!(long.is_empty(), "{long:?}");
}

#[test]
fn no_file_is_named_for_nothing() {
    let empty = ["utils", "util", "misc", "common", "helpers", "helper"];
    let ends = [".rs", ".html", ".css", ".js"];
    let named: Vec<_> = ["harness-core", "server", "tests", "templates", "static"]
        .iter()
        .flat_map(|folder| {
            let all = ends.iter().flat_map(|ending| {
                let mut found = Vec::new();
                collect(&root().join(folder), ending, &mut found);
                found
            });
            all.collect::<Vec<_>>()
        })
        .filter(|path| {
            path.file_stem()
                .is_some_and(|stem| empty.contains(&stem.to_string_lossy().as_ref()))
        })
        .map(|path| shown(&path))
        .collect();
    assert!(named.is_empty(), "{named:?}");
}

fn collect(folder: &Path, ending: &str, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            collect(&path, ending, found);
        } else if path.to_string_lossy().ends_with(ending) {
            found.push(path);
        }
    }
}

#[test]
fn a_rule_stands_in_the_file_of_its_code_in_the_folder_of_its_subject() {
    let mut codes = BTreeSet::new();
    for rule in RULES {
        assert!(codes.insert(rule.code), "{} stands twice", rule.code);
        let file = format!(
            "harness-core/src/rules/{}/{}.rs",
            rule.subject.folder(),
            rule.code
        );
        assert!(root().join(&file).is_file(), "{file} is missing");
        for words in [rule.title, rule.fault, rule.why, rule.what_to_do] {
            assert!(!words.trim().is_empty(), "{}: a text is empty", rule.code);
        }
        assert!(!rule.citations.is_empty(), "{} cites nothing", rule.code);
        for citation in rule.citations {
            assert!(
                !citation.document.is_empty() && !citation.says.is_empty(),
                "{}",
                rule.code
            );
        }
    }
}

/// Modules of the core from left to right; each may use those named with it and what all may.
const LAYERS: &[(&str, &[&str])] = &[
    ("units", &[]),
    ("boats", &[]),
    ("contents", &["boats", "working"]),
    ("tables", &["working", "choices"]),
    ("conductor", &["working", "tables", "choices"]),
    ("model", &["boats", "choices"]),
    ("file_format", &["boats", "model", "tables"]),
    ("tabular", &["file_format"]),
    ("edits", &["file_format"]),
    ("parts", &["choices", "file_format", "tables", "working"]),
    ("routing", &["model", "tables", "working"]),
    (
        "network",
        &[
            "model",
            "boats",
            "routing",
            "conductor",
            "tables",
            "working",
        ],
    ),
    (
        "rules",
        &[
            "model",
            "boats",
            "routing",
            "network",
            "conductor",
            "tables",
            "working",
        ],
    ),
    (
        "worst",
        &[
            "model", "boats", "routing", "network", "rules", "tables", "working",
        ],
    ),
    (
        "adding",
        &[
            "boats",
            "choices",
            "cures",
            "effect",
            "file_format",
            "model",
            "network",
            "routing",
            "rules",
            "sizing",
            "study",
            "tables",
            "working",
            "worst",
        ],
    ),
    (
        "effect",
        &[
            "file_format",
            "model",
            "report",
            "routing",
            "rules",
            "sheets",
            "study",
            "tables",
        ],
    ),
];

/// What a whole crate allows, nobody sees any more.
#[test]
fn no_crate_turns_its_lints_off() {
    for crate_of in [
        "harness-core/src/lib.rs",
        "server/src/lib.rs",
        "tests/src/lib.rs",
    ] {
        let text = text(&root().join(crate_of));
        assert!(text.len() > 100 && !text.contains("#![allow"), "{crate_of}");
    }
}

#[test]
fn no_module_of_the_core_reaches_back() {
    let mut reached = Vec::new();
    for (layer, may_use) in LAYERS {
        for path in files(&format!("harness-core/src/{layer}"), ".rs") {
            let text = text(&path);
            // Tests may build whole models.
            let code = text.split("#[cfg(test)]").next().unwrap();
            let of_tests = ["test_model.rs", "tests.rs", "tests"];
            let shown = shown(&path);
            if shown.split('/').any(|part| of_tests.contains(&part)) {
                continue;
            }
            for used in code.split("crate::").skip(1) {
                let module: String = used
                    .chars()
                    .take_while(|c| c.is_ascii_lowercase() || *c == '_')
                    .collect();
                let allowed = module.is_empty()
                    || module == "units"
                    || module == "extremes"
                    || module == *layer
                    || may_use.contains(&module.as_str());
                if !allowed {
                    reached.push(format!("{shown} uses {module}"));
                }
            }
        }
    }
    reached.sort();
    reached.dedup();
    assert!(reached.is_empty(), "{reached:#?}");
}

#[test]
fn the_core_knows_neither_disk_nor_net_nor_clock_nor_web() {
    let outside = [
        "std::fs",
        "std::net",
        "std::env::",
        "std::time",
        "std::process",
        "axum",
        "sqlx",
        "askama",
        "tokio",
    ];
    for path in files("harness-core/src", ".rs") {
        for word in outside {
            assert!(!text(&path).contains(word), "{} names {word}", shown(&path));
        }
    }
}

#[test]
fn sql_stands_in_the_store_only() {
    for path in files("server/src", ".rs") {
        let in_store = shown(&path).starts_with("server/src/store/");
        let holds_sql = ["SELECT ", "INSERT INTO", "UPDATE ", "DELETE FROM"]
            .iter()
            .any(|word| text(&path).contains(word));
        assert!(in_store || !holds_sql, "{}", shown(&path));
    }
}

#[test]
fn nothing_is_loaded_from_another_host_and_nothing_is_inline() {
    let pages = files("templates", ".html");
    let styles = files("static", ".css");
    for path in pages.iter().chain(&styles) {
        let text = text(path);
        for word in [
            "src=\"http",
            "href=\"http",
            "url(http",
            "@import",
            "<style",
            " style=\"",
        ] {
            assert!(!text.contains(word), "{} holds {word}", shown(path));
        }
        for event in [" onclick=", " onload=", " onchange=", "javascript:"] {
            assert!(!text.contains(event), "{} holds {event}", shown(path));
        }
    }
}

#[test]
fn every_path_named_in_the_guide_exists() {
    let guide = text(&root().join("DEVELOPERS.md"));
    let mut checked = 0;
    for quoted in guide.split('`').skip(1).step_by(2) {
        let path = quoted.trim_end_matches('/');
        let is_path = [
            "harness-core/",
            "server/",
            "tests/",
            "templates/",
            "static/",
        ]
        .iter()
        .any(|start| quoted.starts_with(start))
            && !path.contains(['<', '*', ' ', '{']);
        if is_path {
            assert!(
                root().join(path).exists(),
                "the guide names {path}, which is gone"
            );
            checked += 1;
        }
    }
    assert!(checked >= 8, "only {checked} paths were checked");
}

#[test]
fn nothing_is_left_open_in_the_code() {
    // Put together here, so that this file does not hold the words itself.
    let open = [
        ["TO", "DO"].concat(),
        ["FIX", "ME"].concat(),
        ["todo", "!("].concat(),
    ];
    for path in sources() {
        for word in &open {
            assert!(!text(&path).contains(word), "{} holds {word}", shown(&path));
        }
    }
}
