//! Limits that fail and limits that could not be evaluated.

use std::collections::BTreeMap;

use askama::Template;
use harness_core::model::OptionIndex;
use harness_core::report::Counts;
use harness_core::rules::{self, Finding, Outcome as CoreOutcome};
use serde::Deserialize;

use super::Frame;
use super::findings::{FindingRow, Linked, fitted_when};
use crate::error::{Error, Fault};
use crate::shown::grouped;
use crate::view::View;

/// Which rows, and in which order: the query of the page.
#[derive(Clone, Debug, Default, Deserialize)]
pub struct Filter {
    #[serde(default)]
    rule: String,
    #[serde(default)]
    zone: String,
    #[serde(default)]
    moulding: String,
    #[serde(default)]
    option: String,
    #[serde(default)]
    sort: String,
}

/// Orders that can be asked for: word in the address, words shown.
const SORTS: &[(&str, &str)] = &[
    ("", "worst first"),
    ("circuit", "by circuit"),
    ("rule", "by rule"),
    ("zone", "by zone"),
];

/// A choice of a filter.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Choice {
    /// Word in the address.
    pub value: String,
    /// Words shown.
    pub text: String,
    /// Whether it is taken.
    pub is_taken: bool,
}

/// One field of the filter.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Field {
    /// Name in the address.
    pub name: &'static str,
    /// Words shown.
    pub label: &'static str,
    /// What can be chosen, *all* first.
    pub choices: Vec<Choice>,
}

/// The page.
#[derive(Debug, Template)]
#[template(path = "models/failing.html")]
pub struct FailingPage {
    frame: Frame,
    lead: String,
    boat: String,
    boat_options: Vec<String>,
    is_every: bool,
    proof: String,
    is_filtered: bool,
    fields: Vec<Field>,
    boat_field: Option<(&'static str, String)>,
    failing: Vec<FindingRow>,
    unknown: Vec<FindingRow>,
    rules_href: String,
    gaps_href: String,
    sizes_href: String,
    all: Linked,
}

impl FailingPage {
    /// Of the boat in view.
    ///
    /// # Errors
    /// [`Error::Faults`] when the filter names something that is not there.
    pub fn new(view: &View, filter: &Filter) -> Result<Self, Error> {
        let study = &*view.study;
        let fields = fields(view, filter);
        let faults: Vec<_> = fields
            .iter()
            .filter_map(|field| field.fault(filter))
            .collect();
        if !faults.is_empty() {
            return Err(Error::Faults(faults));
        }
        let counts = Counts::of(study.findings.iter());
        let rows = |wanted: fn(&CoreOutcome) -> bool| {
            let found = study
                .findings
                .iter()
                .filter(|finding| wanted(&finding.outcome) && kept(view, filter, finding));
            let mut rows = FindingRow::with_guesses(view, found);
            match filter.sort.as_str() {
                "circuit" => rows.sort_by_key(|row| number_first(&row.circuit.text)),
                "rule" => rows.sort_by(|a, b| a.rule.text.cmp(&b.rule.text)),
                "zone" => rows.sort_by(|a, b| a.zone.text.cmp(&b.zone.text)),
                _ => {}
            }
            rows
        };
        let limits = |count: usize, one: &str, many: &str| match count {
            1 => format!("1 {one}"),
            count => format!("{} {many}", grouped(count)),
        };
        let frame = Frame::of("Circuits that fail", view, "failing");
        Ok(Self {
            lead: format!(
                "{}; {} could not be evaluated; {}.",
                limits(counts.fails, "limit fails", "limits fail"),
                grouped(counts.not_evaluated),
                limits(counts.met, "holds", "hold"),
            ),
            boat: view.boat_words(),
            is_every: study.every.is_some(),
            proof: proof(view),
            boat_options: frame
                .model
                .as_ref()
                .map_or_else(Vec::new, |m| m.options.clone()),
            is_filtered: [&filter.rule, &filter.zone, &filter.moulding, &filter.option]
                .iter()
                .any(|value| !value.is_empty()),
            failing: rows(|outcome| *outcome == CoreOutcome::Fails),
            unknown: rows(|outcome| matches!(outcome, CoreOutcome::NotEvaluated(_))),
            frame,
            fields,
            boat_field: view.addresses.boat_field(),
            rules_href: view.addresses.to(&["rules"]),
            gaps_href: view.addresses.to(&["gaps"]),
            sizes_href: view.addresses.to(&["sizes"]),
            all: Linked {
                text: "Show every row".to_owned(),
                href: view.addresses.to(&["failing"]),
            },
        })
    }
}

/// How it is known that no boat is worse.
fn proof(view: &View) -> String {
    let study = &*view.study;
    let Some(every) = &study.every else {
        return String::new();
    };
    let candidates = &every.candidates;
    let boats = grouped(study.boats.count());
    let mut words = format!(
        "{boats} boats can be ordered. For {} drops, volts and currents in their states the worst of \
         them is proven: no boat exceeds it",
        grouped(candidates.proven)
    );
    if !every.unproven.is_empty() {
        words.push_str(&format!(
            "; for {} it is the worst found, not proven ({})",
            every.unproven.len(),
            every.unproven.join(", ")
        ));
    }
    let (judged, in_all) = (candidates.boats.len(), candidates.judged_in_all());
    words.push_str(&if judged == in_all {
        format!(". All rules judged {judged} boats, among them the worst for each limit.")
    } else {
        format!(
            ". {judged} boats were judged, among them the worst for each limit: {in_all} by all \
             rules, the others for what flows where they are worst."
        )
    });
    words
}

/// Circuit numbers are ordered as numbers where they are numbers.
fn number_first(text: &str) -> (u64, String) {
    let digits: String = text.chars().take_while(char::is_ascii_digit).collect();
    (digits.parse().unwrap_or(u64::MAX), text.to_owned())
}

fn kept(view: &View, filter: &Filter, finding: &Finding) -> bool {
    let model = &view.study.model;
    let zone = finding.place.zone(model);
    let moulding = zone.and_then(|zone| model.zones[zone].moulding);
    let option = model.options.find(&filter.option);
    let hangs_on = |option: OptionIndex| {
        fitted_when(model, finding.place)
            .is_some_and(|condition| condition.options().contains(&option))
    };
    (filter.rule.is_empty() || finding.rule == filter.rule)
        && (filter.zone.is_empty() || zone == model.zones.find(&filter.zone))
        && (filter.moulding.is_empty() || moulding == model.mouldings.find(&filter.moulding))
        && option.is_none_or(|option| hangs_on(OptionIndex(option.number())))
}

fn fields(view: &View, filter: &Filter) -> Vec<Field> {
    let model = &view.study.model;
    let open = view
        .study
        .findings
        .iter()
        .filter(|f| f.outcome != CoreOutcome::Met);
    let rules: BTreeMap<_, _> = open
        .map(|finding| {
            let title = rules::rule(finding.rule).map_or(finding.rule, |rule| rule.title);
            (finding.rule.to_owned(), title.to_owned())
        })
        .collect();
    let zones = model
        .zones
        .iter()
        .map(|(_, zone)| (zone.id.clone(), zone.title().to_owned()));
    let mouldings = model.mouldings.iter().map(|(_, moulding)| {
        let name = moulding.name.as_ref().unwrap_or(&moulding.id);
        (moulding.id.clone(), name.clone())
    });
    let options = model.options.iter().map(|(_, option)| {
        let name = option.name.as_ref().unwrap_or(&option.id);
        (option.id.clone(), name.clone())
    });
    let sorts = SORTS
        .iter()
        .map(|(value, text)| ((*value).to_owned(), (*text).to_owned()));
    let every = || std::iter::once((String::new(), "all".to_owned()));
    // What an address names and no list has stays in the list of rules, so that a rule that no
    // longer fails is not called unknown.
    let mut rules = rules;
    if let Some(rule) = rules::rule(&filter.rule) {
        rules.insert(rule.code.to_owned(), rule.title.to_owned());
    }
    vec![
        Field::new("rule", "Rule", &filter.rule, every().chain(rules)),
        Field::new("zone", "Zone", &filter.zone, every().chain(zones)),
        Field::new(
            "moulding",
            "Moulding",
            &filter.moulding,
            every().chain(mouldings),
        ),
        Field::new(
            "option",
            "Hangs on option",
            &filter.option,
            every().chain(options),
        ),
        Field::new("sort", "Order", &filter.sort, sorts),
    ]
}

impl Field {
    fn new(
        name: &'static str,
        label: &'static str,
        taken: &str,
        choices: impl Iterator<Item = (String, String)>,
    ) -> Self {
        let choice = |(value, text): (String, String)| Choice {
            is_taken: value == taken,
            value,
            text,
        };
        Self {
            name,
            label,
            choices: choices.map(choice).collect(),
        }
    }

    /// A word that none of the choices has.
    fn fault(&self, filter: &Filter) -> Option<Fault> {
        if self.choices.iter().any(|choice| choice.is_taken) {
            return None;
        }
        let given = match self.name {
            "rule" => &filter.rule,
            "zone" => &filter.zone,
            "moulding" => &filter.moulding,
            "option" => &filter.option,
            _ => &filter.sort,
        };
        let known: Vec<_> = self
            .choices
            .iter()
            .map(|choice| choice.value.as_str())
            .filter(|value| !value.is_empty())
            .collect();
        let fault = Fault::new(format!("/{}", self.name), "there is nothing of this name");
        Some(fault.given(given.as_str()).limit(known.join(", ")))
    }
}
