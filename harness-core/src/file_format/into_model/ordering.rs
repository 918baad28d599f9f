//! Options, their rules, operating states and hulls.

use super::Into;
use crate::file_format::records;
use crate::model::{BoatOption, Hull, OperatingState, OptionRule, StatedRule, Table};
use petgraph::algo::kosaraju_scc;
use petgraph::graph::{DiGraph, NodeIndex};
use std::collections::{BTreeMap, VecDeque};

impl Into<'_> {
    pub(super) fn states(&self) -> Table<OperatingState> {
        let state = |record: &records::StateRecord| OperatingState {
            id: record.id.clone(),
            name: record.name.clone(),
        };
        Table::new(self.record.states.iter().map(state).collect())
    }

    pub(super) fn options(&mut self) -> Table<BoatOption> {
        self.circles();
        let record = self.record;
        let mut options = Vec::with_capacity(record.options.len());
        for (number, record) in record.options.iter().enumerate() {
            if let (Some(from), Some(to)) = (record.from_hull, record.to_hull)
                && from > to
            {
                let detail = format!(
                    "Option \"{}\" starts at hull {from} but ends at hull {to}. Correct one of them.",
                    record.id
                );
                let limit = format!("at least {from}");
                self.fault(
                    format!("/options/{number}/to_hull"),
                    detail,
                    &to.to_string(),
                    &limit,
                );
            }
            options.push(BoatOption {
                id: record.id.clone(),
                name: record.name.clone(),
                take_rate: record.take_rate,
                contains: self.option_list(&record.contains),
                from_hull: record.from_hull,
                to_hull: record.to_hull,
            });
        }
        Table::new(options)
    }

    /// A fault for each circle of packages that contain each other.
    fn circles(&mut self) {
        let record = self.record;
        let mut graph = DiGraph::<(), ()>::new();
        for _ in &record.options {
            graph.add_node(());
        }
        for (number, option) in record.options.iter().enumerate() {
            for part in &option.contains {
                if let Some(&part) = self.positions.options.get(part) {
                    graph.add_edge(NodeIndex::new(number), NodeIndex::new(part), ());
                }
            }
        }
        for group in kosaraju_scc(&graph) {
            let Some(&start) = group.iter().min() else {
                continue;
            };
            if group.len() == 1 && !graph.contains_edge(start, start) {
                continue;
            }
            let option = &record.options[start.index()];
            let way: Vec<&str> = circle(&graph, start)
                .iter()
                .map(|at| record.options[at.index()].id.as_str())
                .collect();
            let detail = format!(
                "Package \"{}\" contains itself: {}. Take one out of another.",
                option.id,
                way.join(" > ")
            );
            let pointer = format!("/options/{}/contains", start.index());
            let limit = "packages that do not contain themselves";
            self.fault(pointer, detail, &option.contains.join(", "), limit);
        }
    }

    pub(super) fn option_rules(&mut self) -> Vec<StatedRule> {
        let record = self.record;
        let mut rules = Vec::with_capacity(record.option_rules.len());
        for (number, record) in record.option_rules.iter().enumerate() {
            if let Some(rule) = self.option_rule(number, record) {
                rules.push(StatedRule {
                    rule,
                    because: record.because.clone(),
                });
            }
        }
        rules
    }

    fn option_rule(
        &mut self,
        number: usize,
        record: &records::OptionRuleRecord,
    ) -> Option<OptionRule> {
        let pointer = format!("/option_rules/{number}");
        let forms = [
            !record.requires.is_empty(),
            !record.excludes.is_empty(),
            !record.only_with.is_empty(),
            !record.exactly_one_of.is_empty(),
            !record.at_most_one_of.is_empty(),
            record.always.is_some(),
        ];
        let stated = forms.iter().filter(|form| **form).count();
        if stated != 1 {
            let detail = format!("This rule states {stated} of its forms. State exactly one.");
            let limit = "requires, excludes, only_with, exactly_one_of, at_most_one_of or always";
            self.fault(pointer, detail, "", limit);
            return None;
        }
        for (field, pair) in [
            ("requires", &record.requires),
            ("excludes", &record.excludes),
        ] {
            if !pair.is_empty() && (pair.len() != 2 || pair[0] == pair[1]) {
                let detail =
                    format!("\"{field}\" takes two different options. Make a rule of each pair.");
                let given = pair.join(", ");
                self.fault(
                    format!("{pointer}/{field}"),
                    detail,
                    &given,
                    "two different options",
                );
                return None;
            }
        }
        let two = |pair: &[String]| (self.option(&pair[0]), self.option(&pair[1]));
        Some(if let Some(option) = &record.always {
            OptionRule::Always(self.option(option))
        } else if !record.requires.is_empty() {
            let (needing, needed) = two(&record.requires);
            OptionRule::Requires(needing, needed)
        } else if !record.excludes.is_empty() {
            let (one, other) = two(&record.excludes);
            OptionRule::Excludes(one, other)
        } else if let [needing, others @ ..] = &record.only_with[..] {
            OptionRule::OnlyWithAnyOf(self.option(needing), self.option_list(others))
        } else if !record.exactly_one_of.is_empty() {
            OptionRule::ExactlyOneOf(self.option_list(&record.exactly_one_of))
        } else {
            OptionRule::AtMostOneOf(self.option_list(&record.at_most_one_of))
        })
    }

    pub(super) fn hulls(&self) -> Table<Hull> {
        let hull = |record: &records::HullRecord| Hull {
            id: record.id.clone(),
            options: self.option_list(&record.options),
            stations_done: record.stations_done.clone(),
            harness_serials: record.harness_serials.clone(),
        };
        Table::new(self.record.hulls.iter().map(hull).collect())
    }
}

/// The shortest way from a node that lies on a circle back to itself, both ends named.
fn circle(graph: &DiGraph<(), ()>, start: NodeIndex) -> Vec<NodeIndex> {
    let mut came_from = BTreeMap::new();
    let mut open = VecDeque::from([start]);
    while let Some(at) = open.pop_front() {
        for next in graph.neighbors(at) {
            came_from.entry(next).or_insert_with(|| {
                open.push_back(next);
                at
            });
        }
        if came_from.contains_key(&start) {
            break;
        }
    }
    let mut way = vec![start];
    let mut at = start;
    while let Some(&before) = came_from.get(&at) {
        way.push(before);
        at = before;
        if at == start {
            break;
        }
    }
    way.reverse();
    way
}
