//! What the macros of `parts.html` are filled with.

use crate::error::Fault;

/// Outcome of judging a limit, as a word and a shape.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// The limit holds.
    Met,
    /// The limit is broken.
    Fails,
    /// Data is missing; the page says which.
    NotEvaluated,
}

impl Outcome {
    /// Class in the style sheet, which adds the shape.
    pub fn class(self) -> &'static str {
        match self {
            Self::Met => "met",
            Self::Fails => "fails",
            Self::NotEvaluated => "not-evaluated",
        }
    }

    /// The word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Met => "met",
            Self::Fails => "fails",
            Self::NotEvaluated => "not evaluated",
        }
    }
}

/// What is wrong with a field of a form; stands at the field and in the summary in the same words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FieldFault {
    /// Id of the field.
    pub field: String,
    /// What is wrong, and how to mend it.
    pub text: String,
}

impl FieldFault {
    /// Whether one of `faults` is at `field`.
    pub fn any(faults: &[Self], field: &str) -> bool {
        faults.iter().any(|fault| fault.field == field)
    }

    /// The faults of a form, each at the field that the first step of its pointer names.
    pub fn of(faults: &[Fault]) -> Vec<Self> {
        let field_fault = |fault: &Fault| {
            let path = fault.pointer.trim_start_matches('/');
            let (field, inside) = path.split_once('/').unwrap_or((path, ""));
            let mut inner = fault.clone();
            inner.pointer = if inside.is_empty() {
                String::new()
            } else {
                format!("/{inside}")
            };
            let text = inner.to_string();
            let text = text.trim_start_matches(':').trim_start();
            let mut letters = text.chars();
            let text = letters.next().map_or_else(String::new, |first| {
                first.to_uppercase().chain(letters).collect()
            });
            Self {
                field: field.to_owned(),
                text,
            }
        };
        faults.iter().map(field_fault).collect()
    }
}

/// A time of the store (RFC 3339, UTC) as people read it.
pub fn date(recorded_at: &str) -> String {
    match recorded_at.get(..16) {
        Some(minutes) => format!("{} UTC", minutes.replace('T', " ")),
        None => recorded_at.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use askama::Template;
    use harness_core::working::{Source, Status, Working};

    use super::*;

    #[derive(Template)]
    #[template(path = "parts_test.html")]
    struct Parts {
        outcomes: [Outcome; 3],
        working: Working,
        sources: Vec<Source>,
        faults: Vec<FieldFault>,
    }

    #[test]
    fn every_part_can_be_used_and_escapes_what_it_shows() {
        let hostile = "<script>alert(1)</script>";
        let text = || hostile.to_owned();
        let source = Source {
            url: Some("https://example.org/<script>".to_owned()),
            ..Source::new(hostile, hostile, Status::Sourced)
        };
        let mut working = Working::new();
        working.step(hostile, hostile, hostile, hostile, Some(&source));
        working.step(hostile, "", hostile, hostile, None);
        let page = Parts {
            outcomes: [Outcome::Met, Outcome::Fails, Outcome::NotEvaluated],
            sources: working.sources(),
            working,
            faults: vec![FieldFault {
                field: "size".to_owned(),
                text: text(),
            }],
        };
        let html = page.render().unwrap();
        assert!(!html.contains("<script"), "{html}");
        assert!(
            html.contains("class=\"not-evaluated\">not evaluated"),
            "{html}"
        );
        assert!(
            html.contains("aria-describedby=\"size-hint size-fault\""),
            "{html}"
        );
        assert_eq!(html.matches("&#60;script&#62;").count(), 15, "{html}");
    }

    #[test]
    fn a_fault_stands_at_its_field() {
        let fault = Fault::new("/file/zones/3", "the zone has no name")
            .given("x")
            .limit("1 to 9");
        let [shown] = &FieldFault::of(&[fault])[..] else {
            panic!()
        };
        assert_eq!(shown.field, "file");
        assert_eq!(
            shown.text,
            "/zones/3: the zone has no name (given: x; wanted: 1 to 9)"
        );
        assert_eq!(
            FieldFault::of(&[Fault::new("/who", "too long")])[0].text,
            "Too long"
        );
    }

    #[test]
    fn dates_are_read_to_the_minute() {
        assert_eq!(date("2026-01-02T03:04:05Z"), "2026-01-02 03:04 UTC");
        assert_eq!(date("soon"), "soon");
    }
}
