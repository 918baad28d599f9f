//! Boats on which a wire before the first devices leads to none of them.
//!
//! A source feeds some wires before any fuse or breaker stands in the way. On which boats one of
//! them leads to no device hangs on all devices behind it at once, not on two things: so of those
//! that have the wire the boat with the fewest of its devices is looked at.

use super::candidates::Gathering;
use crate::model::{Index, Wire};
use crate::network::assembly::Part;
use std::collections::BTreeSet;

/// A wire before the first devices, and the branches of the devices it leads to.
type Leads = (Index<Wire>, BTreeSet<usize>);

impl Gathering<'_> {
    /// For each such wire the boat with the fewest devices behind it.
    pub(super) fn without_devices(&mut self) {
        let beside = self.beside();
        let plus: Vec<usize> = self.assembly.sources.iter().map(|s| s.2).collect();
        for start in plus {
            for (wire, devices) in self.leads(&beside, start) {
                let mut weights = vec![0.0; self.none_held().len()];
                for device in devices {
                    let when = self.assembly.branches[device].part.fitted_when(self.model);
                    if let Some(number) = self.numbers.get(&when) {
                        weights[*number] -= 1.0;
                    }
                }
                let mut held = self.none_held();
                if let Some(number) = self.of_wire(wire) {
                    held[number] = Some(true);
                }
                if weights.iter().any(|weight| *weight != 0.0) {
                    self.heaviest(&weights, &held, "a feed without a device");
                }
            }
        }
    }

    /// For each node its branches with the nodes at their other ends.
    fn beside(&self) -> Vec<Vec<(usize, usize)>> {
        let mut beside = vec![Vec::new(); self.assembly.node_count()];
        for (number, branch) in self.assembly.branches.iter().enumerate() {
            beside[branch.from].push((number, branch.to));
            beside[branch.to].push((number, branch.from));
        }
        beside
    }

    fn protects(&self, branch: usize) -> bool {
        match self.assembly.branches[branch].part {
            Part::Device(device) => self.model.devices[device].protects(),
            _ => false,
        }
    }

    /// The wires reached from a node before any device, and the devices behind each.
    fn leads(&self, beside: &[Vec<(usize, usize)>], start: usize) -> Vec<Leads> {
        // A source's minus is where its wires end.
        let ends: BTreeSet<usize> = self.assembly.sources.iter().map(|s| s.1).collect();
        // Branches passed from one node on, and the devices met.
        let walk = |from: usize, before: Option<usize>| {
            let mut seen = BTreeSet::from([from]);
            let (mut passed, mut devices) = (Vec::new(), BTreeSet::new());
            let mut open = vec![from];
            while let Some(at) = open.pop().filter(|at| !ends.contains(at)) {
                for &(branch, next) in beside[at].iter().filter(|(own, _)| Some(*own) != before) {
                    if self.protects(branch) {
                        devices.insert(branch);
                    } else if seen.insert(next) {
                        passed.push((branch, next));
                        open.push(next);
                    }
                }
            }
            (passed, devices)
        };
        let (passed, _) = walk(start, None);
        let wires = passed.into_iter().filter_map(|(branch, far)| {
            let Part::Wire(wire) = self.assembly.branches[branch].part else {
                return None;
            };
            Some((wire, walk(far, Some(branch)).1))
        });
        wires.collect()
    }
}
