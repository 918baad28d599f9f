//! The result records behind the Verification page.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::compare::{Comparison, compare, tolerance};
use super::evaluate::{evaluate, title};
use super::explained::Explained;
use super::fact::{Fact, Published, PublishedSource, rows, sources};

/// Outcome of one comparison.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Ours is within half a unit of the last published digit.
    Within,
    /// Ours differs, and the reason is stated.
    Explained,
    /// Not computed here, and the reason is stated.
    #[serde(rename = "not evaluated")]
    NotEvaluated,
    /// Ours differs or is missing, and nobody has said why.
    Open,
}

/// One published value beside ours.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Record {
    /// Short name.
    pub id: String,
    /// Kind of calculation, a key of [`Report::kinds`].
    pub kind: String,
    /// The question in one line.
    pub question: String,
    /// Inputs, units in their names.
    pub inputs: String,
    /// Document.
    pub source_title: String,
    /// Table, page or example in it.
    pub source_place: String,
    /// Address of the copy read.
    pub source_url: String,
    /// Standard, regulation, handbook, textbook example, maker's chart, trade chart ...
    pub reference_kind: String,
    /// The published value as printed.
    pub published: String,
    /// Its unit.
    pub unit: String,
    /// Worth of its last printed digit; null for a size or a name.
    pub printed_precision: Option<f64>,
    /// Our value; null where none is computed.
    pub ours: Option<String>,
    /// Ours less published; for sizes in stocked sizes, positive where ours is thicker.
    pub difference: Option<f64>,
    /// The difference over the published value.
    pub relative_difference: Option<f64>,
    /// Digits in agreement, at most 15.
    pub digits: Option<f64>,
    /// Greatest difference that still agrees; null for a size or a name, which must be the same.
    pub tolerance: Option<f64>,
    /// Why that tolerance.
    pub tolerance_why: String,
    /// Outcome.
    pub verdict: Verdict,
    /// Cause of a difference.
    pub cause: Option<String>,
    /// What the difference comes from.
    pub explanation: Option<String>,
    /// Who decided that it stands.
    pub decided_by: Option<String>,
    /// Since when.
    pub since: Option<String>,
    /// What else a reader should know.
    pub remark: String,
    /// The test that repeats this comparison.
    pub test: &'static str,
}

/// How many comparisons ended how.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Counts {
    /// All of them.
    pub compared: usize,
    /// Within the tolerance.
    pub within: usize,
    /// Differing with a reason.
    pub explained: usize,
    /// Not computed, with a reason.
    pub not_evaluated: usize,
    /// Differing without a reason.
    pub open: usize,
    /// Sources used.
    pub sources: usize,
    /// Kinds of calculation.
    pub kinds: usize,
}

/// All comparisons of one kind of calculation.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct KindSummary {
    /// Key used in the records.
    pub kind: String,
    /// The kind in words.
    pub title: &'static str,
    /// Comparisons.
    pub cases: usize,
    /// Within the tolerance.
    pub within: usize,
    /// Differing with a reason.
    pub explained: usize,
    /// Not computed, with a reason.
    pub not_evaluated: usize,
    /// Differing without a reason.
    pub open: usize,
    /// Sources used.
    pub sources: usize,
    /// Largest relative difference among those within.
    pub largest_relative_difference: Option<f64>,
    /// Fewest digits in agreement among those within.
    pub fewest_digits: Option<f64>,
}

/// Something no published value was compared with.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct NotVerified {
    /// What it is.
    pub what: String,
    /// Why there is no comparison.
    pub why: String,
}

/// Everything the Verification page shows of published values.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Report {
    /// The command that rewrites the file.
    pub reproduce: &'static str,
    /// Totals.
    pub counts: Counts,
    /// What has no published value beside it, in plain words.
    pub not_verified: Vec<NotVerified>,
    /// By kind of calculation.
    pub kinds: Vec<KindSummary>,
    /// One by one, in the order of the files of facts.
    pub records: Vec<Record>,
}

/// Compares every fact.
///
/// # Panics
/// When a fact names a source that is not listed.
pub fn report() -> Report {
    let (sources, explained) = (sources(), Explained::all());
    let facts = Fact::all();
    let records: Vec<Record> = facts
        .iter()
        .map(|fact| {
            let source = sources
                .get(&fact.source)
                .unwrap_or_else(|| panic!("{}: source {} is not listed", fact.id, fact.source));
            record(fact, source, explained.get(&fact.id))
        })
        .collect();
    let mut by_kind: BTreeMap<&str, Vec<(&Fact, &Record)>> = BTreeMap::new();
    for pair in facts.iter().zip(&records) {
        by_kind.entry(&pair.0.kind).or_default().push(pair);
    }
    let kinds: Vec<_> = by_kind
        .into_iter()
        .map(|(kind, pairs)| summary(kind, &pairs))
        .collect();
    let count = |verdict| records.iter().filter(|r| r.verdict == verdict).count();
    let used: BTreeSet<_> = facts.iter().map(|fact| &fact.source).collect();
    Report {
        reproduce: "UPDATE_VERIFICATION=1 cargo test -p tests --test published",
        counts: Counts {
            compared: records.len(),
            within: count(Verdict::Within),
            explained: count(Verdict::Explained),
            not_evaluated: count(Verdict::NotEvaluated),
            open: count(Verdict::Open),
            sources: used.len(),
            kinds: kinds.len(),
        },
        not_verified: rows(
            "not_verified.csv",
            include_str!("../../facts/not_verified.csv"),
        )
        .map(|row| NotVerified {
            what: row["what"].clone(),
            why: row["why"].clone(),
        })
        .collect(),
        kinds,
        records,
    }
}

impl Report {
    /// The bytes of the committed file: one record a line, so that a change is easy to read.
    ///
    /// # Panics
    /// Never: every field can be written as JSON.
    pub fn to_json(&self) -> String {
        fn line<T: Serialize>(value: &T) -> String {
            serde_json::to_string(value).unwrap_or_else(|error| panic!("{error}"))
        }
        fn lines<T: Serialize>(values: &[T]) -> String {
            values.iter().map(line).collect::<Vec<_>>().join(",\n")
        }
        format!(
            "{{\"reproduce\":{},\n\"counts\":{},\n\"not_verified\":[\n{}\n],\n\"kinds\":[\n{}\n],\n\"records\":[\n{}\n]}}\n",
            line(&self.reproduce),
            line(&self.counts),
            lines(&self.not_verified),
            lines(&self.kinds),
            lines(&self.records)
        )
    }
}

fn record(fact: &Fact, source: &PublishedSource, explained: Option<&Explained>) -> Record {
    let evaluated = evaluate(fact);
    let comparison = evaluated.as_ref().ok().map(|ours| compare(fact, ours));
    let verdict = match (&comparison, explained) {
        (Some(Comparison { agrees: true, .. }), _) => Verdict::Within,
        (Some(_), Some(_)) => Verdict::Explained,
        (None, Some(_)) => Verdict::NotEvaluated,
        (_, None) => Verdict::Open,
    };
    let (published, last_digit) = match &fact.published {
        Published::Number {
            text, last_digit, ..
        } => (text.clone(), Some(*last_digit)),
        Published::Word(word) => (word.clone(), None),
    };
    let at_most = fact.kind == "drop-at-most";
    let explained = explained.filter(|_| verdict != Verdict::Within);
    let reason = evaluated
        .as_ref()
        .err()
        .map(|reason| reason.because.clone());
    Record {
        id: fact.id.clone(),
        kind: fact.kind.clone(),
        question: fact.question.clone(),
        inputs: fact.inputs_text.clone(),
        source_title: source.title.clone(),
        source_place: source.place.clone(),
        source_url: source.url.clone(),
        reference_kind: source.reference_kind.clone(),
        published,
        unit: fact.unit.clone(),
        printed_precision: last_digit,
        ours: comparison.as_ref().map(|c| c.ours.clone()),
        difference: comparison.as_ref().and_then(|c| c.difference).map(short),
        relative_difference: comparison.as_ref().and_then(|c| c.relative).map(short),
        digits: comparison
            .as_ref()
            .and_then(|c| c.digits)
            .map(|digits| (digits * 10.0).round() / 10.0),
        tolerance: last_digit
            .filter(|_| !at_most)
            .map(|unit| short(tolerance(unit))),
        tolerance_why: if at_most {
            "at most the published limit".to_owned()
        } else if last_digit.is_some() {
            "half a unit of the last printed digit".to_owned()
        } else {
            "the same size or name".to_owned()
        },
        verdict,
        cause: explained.map(|entry| entry.cause.clone()),
        explanation: explained
            .map(|entry| entry.explanation.clone())
            .or(reason.map(Into::into)),
        decided_by: explained.map(|entry| entry.decided_by.clone()),
        since: explained.map(|entry| entry.since.clone()),
        remark: fact.remark.clone(),
        test: "tests/tests/published.rs: published_values_are_reproduced_or_explained",
    }
}

/// To six significant digits, so that the file does not carry noise.
fn short(value: f64) -> f64 {
    harness_core::working::significant(value, 6)
        .parse()
        .unwrap_or(value)
}

fn summary(kind: &str, pairs: &[(&Fact, &Record)]) -> KindSummary {
    let count = |verdict| pairs.iter().filter(|(_, r)| r.verdict == verdict).count();
    let within = || {
        pairs
            .iter()
            .filter(|(_, r)| r.verdict == Verdict::Within)
            .map(|(_, r)| r)
    };
    let used: BTreeSet<_> = pairs.iter().map(|(fact, _)| &fact.source).collect();
    KindSummary {
        kind: kind.to_owned(),
        title: title(kind),
        cases: pairs.len(),
        within: count(Verdict::Within),
        explained: count(Verdict::Explained),
        not_evaluated: count(Verdict::NotEvaluated),
        open: count(Verdict::Open),
        sources: used.len(),
        largest_relative_difference: within()
            .filter_map(|r| r.relative_difference.map(f64::abs))
            .reduce(f64::max),
        fewest_digits: within().filter_map(|r| r.digits).reduce(f64::min),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A fact of the given kind, changed by a hand's breadth of its last digit.
    fn changed(id: &str, units: f64) -> Fact {
        let mut fact = Fact::all().into_iter().find(|fact| fact.id == id).unwrap();
        if let Published::Number {
            value, last_digit, ..
        } = &mut fact.published
        {
            *value += units * *last_digit;
        }
        fact
    }

    fn verdict(fact: &Fact, explained: Option<&Explained>) -> Verdict {
        let source = &sources()[&fact.source];
        record(fact, source, explained).verdict
    }

    #[test]
    fn a_planted_difference_is_found() {
        // Worked example: 2.5 mm2, 20 A, 5 m one way at 20 degC, printed as 1.38 V.
        assert_eq!(verdict(&changed("W169", 0.0), None), Verdict::Within);
        assert_eq!(verdict(&changed("W169", 1.0), None), Verdict::Open);
        assert_eq!(verdict(&changed("W169", -1.0), None), Verdict::Open);
        let mut size = changed("W003", 0.0);
        assert_eq!(verdict(&size, None), Verdict::Within);
        size.published = Published::Word("14 AWG".to_owned());
        assert_eq!(verdict(&size, None), Verdict::Open);
    }

    #[test]
    fn what_is_not_computed_is_open_until_it_is_explained() {
        let fact = changed("W163", 0.0);
        assert_eq!(verdict(&fact, None), Verdict::Open);
        let why = &Explained::all()["W163"];
        assert_eq!(verdict(&fact, Some(why)), Verdict::NotEvaluated);
    }

    #[test]
    fn a_limit_is_met_below_and_not_above() {
        // Thruster chart: 680 A, 15 m of 150 mm2 at 12 V drops 9.3 %; a limit of 10 % holds.
        assert_eq!(verdict(&changed("W012", 0.0), None), Verdict::Within);
        assert_eq!(verdict(&changed("W012", -1.0), None), Verdict::Open);
    }
}
