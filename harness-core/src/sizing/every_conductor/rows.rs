//! Drops that fail on some boat, as rows of the search for least copper.

use super::super::least_copper::{Row, Term};
use super::AllSizes;
use crate::boats::Boat;
use crate::model::{BoatModel, Index, Load, OperatingState};
use crate::network::Behavior;
use crate::network::assembly::{Assembly, LoadPoint, Operating, Part, PathShare, SourceCondition};
use crate::rules::{DROP_CODE, Finding, Place, SUPPLY_CODE};
use std::collections::BTreeMap;

/// Within this part of each other, the currents of the loads behind a branch are all it carries.
const SAME_A: f64 = 1e-6;
/// States of a row: drop limits and least volts take turns, so that a row tells its rule.
const KINDS: usize = 2;

impl AllSizes<'_> {
    /// What fails on some boat with these sizes, and the drops among it as rows.
    pub(super) fn broken(&mut self, at: &dyn Fn(usize) -> usize) -> (Vec<Row>, Vec<Finding>) {
        self.studies += 1;
        let model = self.with_sizes(at);
        let Some((findings, every)) = self.study.judged_on_every_boat(&model) else {
            return (Vec::new(), Vec::new());
        };
        let mut boats: BTreeMap<usize, Assembly> = BTreeMap::new();
        let mut rows = Vec::new();
        for (number, finding) in findings.iter().enumerate() {
            let is_drop = [DROP_CODE, SUPPLY_CODE].contains(&finding.rule);
            let Place::Load(load) = finding.place else {
                continue;
            };
            if !finding.fails() || !is_drop || self.hopeless.contains(&load.number()) {
                continue;
            }
            let boat: &Boat = every.boat(number);
            let assembly = boats
                .entry(every.worst[number])
                .or_insert_with(|| Assembly::of(&model, &self.study.routing, boat));
            let condition = match finding.rule {
                SUPPLY_CODE => SourceCondition::Low,
                _ => SourceCondition::Nominal,
            };
            let operating = assembly.operate(&model, finding.state, condition);
            let asked = Asked {
                model: &model,
                assembly,
                operating: &operating,
                at,
            };
            rows.extend(self.row(&asked, load, finding));
        }
        (rows, findings)
    }

    fn row(&mut self, asked: &Asked<'_>, load: Index<Load>, finding: &Finding) -> Option<Row> {
        let Some(LoadPoint::Supplied(supplied)) = asked.operating.loads.get(&load) else {
            return None;
        };
        let is_drop = finding.rule == DROP_CODE;
        let limit_v = if is_drop {
            asked.model.loads[load].drop_limit_percent()? / 100.0 * supplied.nominal.value()
        } else {
            (supplied.source_volts - asked.model.loads[load].min_volts?).value()
        };
        let mut row = Row {
            load: load.number(),
            boat: self.least.len(),
            state: KINDS * finding.state.map_or(0, Index::<OperatingState>::number)
                + usize::from(!is_drop),
            limit_v,
            ..Row::default()
        };
        let mut least = row.clone();
        for share in supplied.feed.iter().chain(&supplied.back) {
            match self.term(asked, share) {
                Some(term) => {
                    row.terms.push(term);
                    let part = asked.least_part(share.branch);
                    let volts_mm2 = term.volts_mm2 * part;
                    least.terms.push(Term { volts_mm2, ..term });
                }
                None => {
                    row.constant_v += share.lost.value().max(0.0);
                    least.constant_v += share.lost.value() * asked.least_part(share.branch);
                }
            }
        }
        least.constant_v = least.constant_v.max(0.0);
        self.least.push(least);
        Some(row)
    }

    /// The drop of one branch as a matter of its area; nothing for what is no sized wire, and for
    /// what lifts the volts.
    fn term(&self, asked: &Asked<'_>, share: &PathShare) -> Option<Term> {
        let Part::Wire(wire) = asked.assembly.branches[share.branch].part else {
            return None;
        };
        let &segment = self.place.get(&wire)?;
        let lost = share.lost.value();
        let area_mm2 = self.sized[segment].areas[(asked.at)(segment)].area_mm2;
        (lost > 0.0).then_some(Term {
            segment,
            volts_mm2: lost * area_mm2,
        })
    }
}

/// One boat solved with the sizes tried.
struct Asked<'a> {
    model: &'a BoatModel,
    assembly: &'a Assembly,
    operating: &'a Operating,
    at: &'a dyn Fn(usize) -> usize,
}

impl Asked<'_> {
    /// Which part of the current of a branch flows at least, whatever the sizes: constant power
    /// draws least at all the volts of its source, resistance at the least its limits leave.
    /// Nothing is claimed where loads feed, or a branch is part of a loop.
    fn least_part(&self, branch: usize) -> f64 {
        let (mut now, mut least) = (0.0, 0.0);
        for (load, point) in &self.operating.loads {
            let LoadPoint::Supplied(supplied) = point else {
                continue;
            };
            let mut way = supplied.feed.iter().chain(&supplied.back);
            if !way.any(|share| share.branch == branch) {
                continue;
            }
            let stated = &self.model.loads[*load];
            let source = &self.model.sources[supplied.source];
            let full = self.operating.condition.volts(source);
            let part = match stated.behavior.map(Behavior::from) {
                Some(Behavior::Current(_)) => 1.0,
                Some(Behavior::Power(_)) => full.map_or(0.0, |full| supplied.volts / full),
                Some(Behavior::Resistance(_)) => {
                    let drop = stated.drop_limit_percent().map(|percent| {
                        let allowed = percent / 100.0 * supplied.nominal.value();
                        supplied.source_volts.value() - allowed
                    });
                    drop.map_or(0.0, |left| (left / supplied.volts.value()).clamp(0.0, 1.0))
                }
                None => 0.0,
            };
            now += supplied.current.value();
            least += supplied.current.value() * part.min(1.0);
            if supplied.current.value() < 0.0 {
                return 0.0;
            }
        }
        let flows = self.operating.branch_currents[branch].clone();
        let flows = flows.map_or(0.0, |amps| amps.value().abs());
        if now > 0.0 && (flows - now).abs() <= SAME_A * now {
            least / now
        } else {
            0.0
        }
    }
}

/// The rule whose limit a row is.
pub(super) fn rule_of(row: &Row) -> &'static str {
    match row.state % KINDS {
        0 => DROP_CODE,
        _ => SUPPLY_CODE,
    }
}
