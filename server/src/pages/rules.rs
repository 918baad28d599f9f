//! The rules by subject, and one rule.

use askama::Template;
use harness_core::report::Counts;
use harness_core::rules::{Outcome as CoreOutcome, RULES, Rule, Subject};

use super::Frame;
use super::findings::{FindingRow, Linked};
use crate::view::View;

/// One rule in the list.
#[derive(Clone, Debug)]
pub struct RuleRow {
    rule: Linked,
    fault: &'static str,
    cases: usize,
    documents: Vec<&'static str>,
    counts: Option<Counts>,
}

/// The rules of one subject.
#[derive(Clone, Debug)]
pub struct Group {
    title: &'static str,
    id: &'static str,
    rows: Vec<RuleRow>,
}

/// The list of rules.
#[derive(Debug, Template)]
#[template(path = "rules/list.html")]
pub struct RulesPage {
    frame: Frame,
    groups: Vec<Group>,
    count: usize,
    totals: Option<Counts>,
}

impl RulesPage {
    /// Every rule; with a boat in view also its outcomes there.
    pub fn new(view: Option<&View>) -> Self {
        let row = |rule: &Rule| {
            let mut documents: Vec<_> = rule.citations.iter().map(|c| c.document).collect();
            documents.dedup();
            RuleRow {
                rule: Linked {
                    text: rule.title.to_owned(),
                    href: address(view, rule),
                },
                fault: rule.fault,
                cases: rule.cases.len(),
                documents,
                counts: view.map(|view| {
                    let findings = view.study.findings.iter();
                    Counts::of(findings.filter(|finding| finding.rule == rule.code))
                }),
            }
        };
        let group = |subject: Subject| Group {
            title: subject.title(),
            id: subject.folder(),
            rows: RULES
                .iter()
                .filter(|rule| rule.subject == subject)
                .map(|rule| row(rule))
                .collect(),
        };
        Self {
            frame: match view {
                Some(view) => Frame::of("Rules", view, "rules"),
                None => Frame::new("Rules").at("/rules"),
            },
            groups: Subject::ALL
                .into_iter()
                .map(group)
                .filter(|group| !group.rows.is_empty())
                .collect(),
            count: RULES.len(),
            totals: view.map(|view| Counts::of(view.study.findings.iter())),
        }
    }
}

fn address(view: Option<&View>, rule: &Rule) -> String {
    view.map_or_else(
        || format!("/rules/{}", rule.code),
        |view| view.addresses.to(&["rules", rule.code]),
    )
}

/// One rule.
#[derive(Debug, Template)]
#[template(path = "rules/rule.html")]
pub struct RulePage {
    frame: Frame,
    rule: &'static Rule,
    counts: Option<Counts>,
    failing: Vec<FindingRow>,
    unknown: Vec<FindingRow>,
}

impl RulePage {
    /// The rule; with a boat in view also where it fails there.
    pub fn new(rule: &'static Rule, view: Option<&View>) -> Self {
        let rows = |wanted: fn(&CoreOutcome) -> bool| {
            view.map_or_else(Vec::new, |view| {
                let findings = view.study.findings.iter();
                let of_rule = findings
                    .filter(|finding| finding.rule == rule.code && wanted(&finding.outcome));
                FindingRow::all(view, of_rule)
            })
        };
        let frame = match view {
            Some(view) => {
                Frame::of(rule.title, view, "rule").under("Rules", view.addresses.to(&["rules"]))
            }
            None => Frame::new(rule.title).at("/rules").under("Rules", "/rules"),
        };
        Self {
            frame,
            rule,
            counts: view.map(|view| {
                let findings = view.study.findings.iter();
                Counts::of(findings.filter(|finding| finding.rule == rule.code))
            }),
            failing: rows(|outcome| *outcome == CoreOutcome::Fails),
            unknown: rows(|outcome| matches!(outcome, CoreOutcome::NotEvaluated(_))),
        }
    }
}
