//! What a person sets for all pages.

use askama::Template;

use super::Frame;
use crate::shown::Setting;

/// One choice of a question.
#[derive(Clone, Debug)]
struct Choice {
    value: &'static str,
    text: &'static str,
    hint: &'static str,
    is_taken: bool,
}

/// A question with its choices, the usual one first.
#[derive(Clone, Debug)]
struct Question {
    name: &'static str,
    legend: &'static str,
    choices: [Choice; 2],
}

/// Units and words.
#[derive(Debug, Template)]
#[template(path = "settings.html")]
pub struct SettingsPage {
    frame: Frame,
    questions: [Question; 3],
    back: String,
    is_saved: bool,
}

impl SettingsPage {
    /// As the reader has it; `back` is the page to return to.
    pub fn new(setting: Setting, back: String, is_saved: bool) -> Self {
        let mark = setting.mark();
        let is_set = |part: &str| mark.split('-').any(|one| one == part);
        let question = |name, legend, usual: [&'static str; 3], other: [&'static str; 3]| {
            let choice = |[value, text, hint]: [&'static str; 3], is_taken| Choice {
                value,
                text,
                hint,
                is_taken,
            };
            Question {
                name,
                legend,
                choices: [
                    choice(usual, !is_set(other[0])),
                    choice(other, is_set(other[0])),
                ],
            }
        };
        Self {
            frame: Frame::new("Units and words").at("/settings"),
            questions: [
                question(
                    "units",
                    "Units",
                    ["si", "SI", "m, mm, mm², °C, g and kg"],
                    ["us", "US", "feet and inches, circular mils, °F, oz and lb"],
                ),
                question(
                    "sizes",
                    "Sizes of conductors",
                    [
                        "ordered",
                        "As ordered",
                        "with US units, circular mils stand beside a size in square millimeters",
                    ],
                    [
                        "both",
                        "As ordered, with the other beside",
                        "the area beside a gauge, circular mils beside a size in square millimeters",
                    ],
                ),
                question(
                    "words",
                    "Words",
                    ["us", "United States", "as in color, splice, fuse block"],
                    ["uk", "United Kingdom", "as in colour, joint, fuse box"],
                ),
            ],
            back,
            is_saved,
        }
    }
}
