//! How far failures reach, against the list of boats on which each limit fails.

use super::MOST_OPTIONS;
use super::{Plain, keyed};
use crate::boats::{Boat, OptionIndex};
use crate::rules::{self, Depends, Finding};
use crate::worst::every_boat::MOST_COUNTED;
use crate::worst::{EveryBoat, Extent};
use num_bigint::BigUint;

/// What was found of all failures.
#[derive(Debug, Default, PartialEq)]
pub(super) struct Reached {
    /// Limits that fail.
    pub failing: usize,
    /// On some boats only.
    pub partly: usize,
    /// With the exact number of boats.
    pub exact: usize,
    /// Causes listed, and those of which no option can be left out.
    pub causes: [usize; 2],
    /// Options told that all failing boats have, or none has; and how many there are.
    pub shared: [usize; 2],
    /// Failures with a boat near the standard boat.
    pub near: usize,
}

impl Reached {
    pub(super) fn compare(
        &mut self,
        plain: &Plain,
        every: &EveryBoat,
        findings: &[Finding],
        faults: &mut Vec<String>,
    ) {
        for (key, finding) in keyed(findings) {
            // Rules that look at all boats themselves say the same on each.
            let rule = rules::rule(finding.rule).unwrap();
            let (Some(over), true) = (plain.fails.get(&key), rule.depends != Depends::Boats) else {
                continue;
            };
            let number = findings.iter().position(|known| *known == finding);
            let extent = number.and_then(|number| every.extents[number].as_ref());
            let before = findings[..number.unwrap_or(0)].iter();
            if extent.is_none() && before.filter(|f| f.fails()).count() >= MOST_COUNTED {
                continue;
            }
            let Some(extent) = extent.filter(|_| finding.fails()) else {
                faults.push(format!("{} tells not how far it reaches", finding.message));
                continue;
            };
            self.failing += 1;
            self.partly += usize::from(over.len() < plain.boats.len());
            self.exact += usize::from(extent.boats.is_exact());
            let mut wrong: Vec<String> = Vec::new();
            let count = BigUint::from(over.len());
            if extent.boats.at_least > count || extent.boats.at_most < count {
                wrong.push(format!("fails on {count}, not {:?}", extent.boats));
            }
            self.causes(plain, over, extent, &mut wrong);
            self.shared(plain, over, extent, &mut wrong);
            self.near(plain, over, every, extent, &mut wrong);
            let told = wrong.into_iter();
            faults.extend(told.map(|wrong| format!("{}: {wrong}", finding.message)));
        }
    }

    /// On every boat with the options of a cause it fails.
    fn causes(&mut self, plain: &Plain, over: &[Boat], extent: &Extent, wrong: &mut Vec<String>) {
        let enough = |cause: &[OptionIndex]| {
            let with = |boat: &&Boat| cause.iter().all(|option| boat.has(*option));
            let mut having = plain.boats.iter().filter(with).peekable();
            having.peek().is_some() && having.all(|boat| over.contains(boat))
        };
        for cause in &extent.causes {
            self.causes[0] += 1;
            if !enough(cause) {
                wrong.push(format!("not with {cause:?}"));
            }
            let without = |left_out: usize| {
                let mut rest = cause.clone();
                rest.remove(left_out);
                rest
            };
            self.causes[1] += usize::from(!(0..cause.len()).any(|at| enough(&without(at))));
        }
    }

    fn shared(&mut self, plain: &Plain, over: &[Boat], extent: &Extent, wrong: &mut Vec<String>) {
        for (told, fitted) in [(&extent.all_have, true), (&extent.none_has, false)] {
            let of_all = |boats: &[Boat], option| boats.iter().all(|b| b.has(option) == fitted);
            let every = (0..MOST_OPTIONS).map(OptionIndex);
            let shared: Vec<OptionIndex> = every
                .filter(|option| of_all(over, *option) && !of_all(&plain.boats, *option))
                .collect();
            self.shared[0] += told.len();
            self.shared[1] += shared.len();
            if !told.iter().all(|option| shared.contains(option)) {
                wrong.push(format!("shares {shared:?}, not {told:?}"));
            }
        }
    }

    /// It fails on the boat near the standard boat, and no one change can be taken back.
    fn near(
        &mut self,
        plain: &Plain,
        over: &[Boat],
        every: &EveryBoat,
        extent: &Extent,
        wrong: &mut Vec<String>,
    ) {
        let Some(near) = &extent.nearest else { return };
        self.near += 1;
        if !over.contains(near) {
            wrong.push(format!("not on {near:?}"));
        }
        let options = (0..MOST_OPTIONS).map(OptionIndex);
        let changed = options.filter(|option| near.has(*option) != every.standard.has(*option));
        for option in changed {
            let mut back = near.clone();
            if near.has(option) {
                back.remove(option);
            } else {
                back.add(option);
            }
            if plain.boats.contains(&back) && over.contains(&back) {
                wrong.push(format!("also on {back:?}, nearer than {near:?}"));
            }
        }
    }
}
