//! Boats on which what leads from a source to a wire or device is another than on others.
//!
//! Rules of protection walk from each source: to the first device on each way, to the wires it
//! protects, to wires that lead to no device. What they find hangs on every part of the ways, not
//! on two things: so each way is asked for with a boat on which it is the one walked.

use super::candidates::Gathering;
use super::leading::{Leading, Together, Way, both, condition, with};
use crate::boats::{BoatSet, Condition};
use crate::model::SourceKind;
use std::collections::{BTreeMap, BTreeSet};

/// Choices of batteries joined to one device (our practice: four banks, each by one way, make 16).
const MOST_CHOICES: usize = 64;

type Ways = BTreeMap<usize, Vec<Way>>;

impl Gathering<'_> {
    /// A boat for each way to each wire and device, and one for each wire that leads to no device.
    pub(super) fn protected(&mut self, buildable: &BoatSet) {
        let assembly = self.assembly;
        let (mut asked, mut first) = (BTreeSet::new(), BTreeMap::new());
        for &source in &assembly.sources {
            let stated = &self.model.sources[source.0];
            let leading = Leading::of(self.model, assembly, self.routing, source);
            let Some(ways) = leading.ways(&stated.fitted_when) else {
                self.too_many(&stated.id);
                continue;
            };
            let walked = Walked::of(&leading, &ways);
            for branch in leading.branches() {
                asked.extend(walked.to(branch));
                if is_battery(stated.kind) && leading.protects(branch) {
                    let here: &mut Vec<Together> = first.entry(branch).or_default();
                    here.extend(walked.before_any_device(branch));
                }
            }
        }
        asked.extend(self.batteries_joined(&first));
        for when in asked {
            self.ask(&when, buildable);
        }
    }

    fn too_many(&mut self, source: &str) {
        let told = format!("protection behind source {source}: too many ways lead from it");
        self.found.unproven.push(told);
    }

    fn ask(&mut self, when: &Condition, buildable: &BoatSet) {
        let judged = self.found.judged.iter();
        let mut whole = judged.enumerate().filter(|(_, places)| places.is_none());
        if whole.any(|(at, _)| when.holds(self.boat(at))) {
            return;
        }
        let boat = buildable.narrowed(when).map(|narrowed| narrowed.fullest());
        if let Some(boat) = self.found(boat, "a way from a source") {
            self.add(self.boats.way_of(&boat));
        }
    }

    /// Each choice of batteries that may be joined to a device at once, whatever lies between, and
    /// the same with the device as the first from one of them.
    fn batteries_joined(&mut self, first: &BTreeMap<usize, Vec<Together>>) -> BTreeSet<Condition> {
        let mut joined: Vec<Ways> = Vec::new();
        for &(source, _, plus) in &self.assembly.sources {
            let stated = &self.model.sources[source];
            if !is_battery(stated.kind) {
                continue;
            }
            let leading = Leading::joined(self.model, self.assembly, self.routing, plus);
            match leading.ways(&stated.fitted_when) {
                Some(ways) => joined.push(ways),
                None => self.too_many(&stated.id),
            }
        }
        let mut asked = BTreeSet::new();
        for (&device, first) in first {
            let branch = &self.assembly.branches[device];
            let fitted = branch.part.fitted_when(self.model);
            let mut choices = vec![Together::new()];
            choices.extend(first.iter().cloned());
            for ways in &joined {
                let ways: Vec<&Way> = ways.get(&branch.from).into_iter().flatten().collect();
                let more: Vec<Together> = choices
                    .iter()
                    .flat_map(|chosen| ways.iter().filter_map(|way| both(chosen, &way.whole)))
                    .collect();
                choices.extend(more);
                if choices.len() > MOST_CHOICES {
                    choices.truncate(MOST_CHOICES);
                    let label = branch.part.label(self.model);
                    let told = format!("batteries joined to {label}: too many choices of them");
                    self.found.unproven.push(told);
                    break;
                }
            }
            let there = choices.iter().filter_map(|chosen| with(chosen, &fitted));
            asked.extend(there.map(|there| condition(&there)));
        }
        asked
    }
}

/// A source that states no kind is taken for a battery, as the rule does.
fn is_battery(kind: Option<SourceKind>) -> bool {
    matches!(kind, Some(SourceKind::Battery) | None)
}

/// The ways from one source.
struct Walked<'a> {
    leading: &'a Leading<'a>,
    ways: &'a Ways,
    /// When a node lies on the way to a first device: by the node.
    leads: BTreeMap<usize, BTreeSet<Condition>>,
}

impl<'a> Walked<'a> {
    fn of(leading: &'a Leading<'a>, ways: &'a Ways) -> Self {
        let mut walked = Self {
            leading,
            ways,
            leads: BTreeMap::new(),
        };
        for branch in leading
            .branches()
            .into_iter()
            .filter(|at| leading.protects(*at))
        {
            let (from, to) = leading.ends(branch);
            for (near, far) in [(from, to), (to, from)] {
                let others = walked.best(far).collect::<Vec<_>>();
                for way in walked.best(near).filter(|way| way.devices == 0) {
                    let when = walked.taken(way, near, &others);
                    let when = when.map(|when| when.and(&leading.when(branch)));
                    if let Some(when) = when {
                        for node in &way.nodes {
                            let led = walked.leads.entry(*node).or_default();
                            led.insert(when.clone());
                        }
                    }
                }
            }
        }
        walked
    }

    fn best(&self, node: usize) -> impl Iterator<Item = &'a Way> + use<'a> {
        self.ways.get(&node).into_iter().flatten()
    }

    /// When a way is the one walked to its node, and from there on.
    fn taken(&self, way: &Way, node: usize, others: &[&Way]) -> Option<Condition> {
        let whole = with(&way.whole, &self.leading.passes(node))?;
        let before = self.best(node).chain(others.iter().copied());
        let before = before.filter(|other| other.is_before(way));
        let before: Vec<Condition> = before.map(|other| condition(&other.whole)).collect();
        Some(condition(&whole).and(&Condition::Any(before).negated()))
    }

    /// Ways to a protective device before any other.
    fn before_any_device(&self, branch: usize) -> Vec<Together> {
        let (from, to) = self.leading.ends(branch);
        let near = self.best(from).chain(self.best(to));
        let near = near.filter(|way| way.devices == 0);
        near.map(|way| way.whole.clone()).collect()
    }

    /// Boats on which a branch is reached by each way from each of its ends, and those on which it
    /// is before any device and leads to none.
    fn to(&self, branch: usize) -> Vec<Condition> {
        let (from, to) = self.leading.ends(branch);
        let fitted = self.leading.when(branch);
        let mut asked = Vec::new();
        for (near, far) in [(from, to), (to, from)] {
            let apart = |way: &&Way| !way.branches.contains(&branch);
            let others: Vec<&Way> = self.best(far).filter(apart).collect();
            for way in self.best(near).filter(apart) {
                let taken = self.taken(way, near, &others);
                let Some(there) = taken.map(|taken| taken.and(&fitted)) else {
                    continue;
                };
                if way.devices == 0 {
                    let leads = self.leads.get(&far).into_iter().flatten();
                    let leads = Condition::Any(leads.cloned().collect());
                    asked.push(there.and(&leads.negated()));
                }
                asked.push(there);
            }
        }
        asked.retain(|when| *when != Condition::never());
        asked
    }
}
