//! The plus side of each source, walked along its least protected ways.
//!
//! A device that is closed in some state is taken as closed: a way that is closed in some state
//! has to be protected. A place reached both through a fuse and past it counts as reached past
//! it. The walk ends at the poles of other sources, since from there on those feed.

use crate::model::{Device, Index, Source};
use crate::network::assembly::{Branch, Part};
use crate::rules::Facts;
use std::cell::OnceCell;
use std::cmp::Ordering;
use std::collections::{BTreeSet, BinaryHeap};
use std::rc::Rc;

/// The walks of one boat, made when a rule first asks for them.
#[derive(Clone, Debug, Default)]
pub struct Walks(Rc<OnceCell<Vec<Walk>>>);

impl Walks {
    /// One for each fitted source.
    pub(super) fn of(&self, facts: &Facts<'_>) -> &[Walk] {
        self.0.get_or_init(|| walks(facts))
    }
}

/// The plus side of one source.
#[derive(Debug)]
pub(super) struct Walk {
    /// The source.
    pub source: Index<Source>,
    nodes: Vec<Option<Reached>>,
    /// Poles of other sources, where the walk ends.
    ends: BTreeSet<usize>,
    leads_to_device: Vec<bool>,
}

/// How a node is reached over the fewest protective devices, and of such ways the shortest.
#[derive(Clone, Copy, Debug)]
struct Reached {
    devices: u32,
    metres: f64,
    /// Branch and node before.
    by: Option<(usize, usize)>,
    last_device: Option<Index<Device>>,
}

/// How a wire stands to the protective devices between it and a source.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Upstream {
    /// This device opens it.
    Device(Index<Device>),
    /// Nothing opens it yet, but it leads to a device.
    LeadsToDevice,
    /// Nothing opens it, and nothing follows.
    Nothing,
}

/// The first device on a way from a source.
pub(super) struct First {
    /// The device.
    pub device: Index<Device>,
    /// The branches from the source's plus to it.
    pub way: Vec<usize>,
}

/// A way still to be followed; the least protected and shortest is followed first.
struct Open {
    devices: u32,
    metres: f64,
    node: usize,
}

impl PartialEq for Open {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}
impl Eq for Open {}
impl PartialOrd for Open {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Open {
    /// Reversed, since the heap gives its greatest first.
    fn cmp(&self, other: &Self) -> Ordering {
        let by_devices = other.devices.cmp(&self.devices);
        let by_length = other.metres.total_cmp(&self.metres);
        by_devices.then(by_length).then(other.node.cmp(&self.node))
    }
}

/// Walks of every fitted source.
fn walks(facts: &Facts<'_>) -> Vec<Walk> {
    let assembly = facts.assembly;
    let mut beside = vec![Vec::new(); assembly.node_count()];
    let closes = |(_, branch): &(usize, &Branch)| facts.closes(branch.part);
    for (number, branch) in assembly.branches.iter().enumerate().filter(closes) {
        beside[branch.from].push((number, branch.to));
        beside[branch.to].push((number, branch.from));
    }
    let poles: BTreeSet<usize> = assembly
        .sources
        .iter()
        .flat_map(|&(_, minus, plus)| [minus, plus])
        .collect();
    assembly
        .sources
        .iter()
        .map(|&(source, _, plus)| Walk::of(facts, source, plus, &beside, &poles))
        .collect()
}

/// The protective device a branch stands for.
fn protective(facts: &Facts<'_>, branch: usize) -> Option<Index<Device>> {
    match facts.assembly.branches[branch].part {
        Part::Device(device) if facts.model.devices[device].protects() => Some(device),
        _ => None,
    }
}

impl Walk {
    fn of(
        facts: &Facts<'_>,
        source: Index<Source>,
        start: usize,
        beside: &[Vec<(usize, usize)>],
        poles: &BTreeSet<usize>,
    ) -> Self {
        let mut ends = poles.clone();
        ends.remove(&start);
        let mut nodes: Vec<Option<Reached>> = vec![None; beside.len()];
        nodes[start] = Some(Reached {
            devices: 0,
            metres: 0.0,
            by: None,
            last_device: None,
        });
        let mut open = BinaryHeap::from([Open {
            devices: 0,
            metres: 0.0,
            node: start,
        }]);
        while let Some(way) = open.pop() {
            let Some(here) = nodes[way.node] else {
                continue;
            };
            let old = (here.devices, here.metres) != (way.devices, way.metres);
            if old || ends.contains(&way.node) {
                continue;
            }
            for &(branch, next) in &beside[way.node] {
                let device = protective(facts, branch);
                let reached = Reached {
                    devices: here.devices + u32::from(device.is_some()),
                    metres: here.metres + metres(facts, branch),
                    by: Some((branch, way.node)),
                    last_device: device.or(here.last_device),
                };
                let better = nodes[next].is_none_or(|known| {
                    (reached.devices, reached.metres) < (known.devices, known.metres)
                });
                if better {
                    nodes[next] = Some(reached);
                    open.push(Open {
                        devices: reached.devices,
                        metres: reached.metres,
                        node: next,
                    });
                }
            }
        }
        let mut walk = Self {
            source,
            leads_to_device: vec![false; nodes.len()],
            nodes,
            ends,
        };
        walk.mark_ways_to_devices(facts);
        walk
    }

    fn mark_ways_to_devices(&mut self, facts: &Facts<'_>) {
        for (_, near) in self.first(facts) {
            let mut at = Some(near);
            while let Some(node) = at {
                if std::mem::replace(&mut self.leads_to_device[node], true) {
                    break;
                }
                at = self.nodes[node].and_then(|reached| Some(reached.by?.1));
            }
        }
    }

    /// The first devices with the node on their source side.
    fn first(&self, facts: &Facts<'_>) -> Vec<(Index<Device>, usize)> {
        let mut first = Vec::new();
        for (number, branch) in facts.assembly.branches.iter().enumerate() {
            let Some(device) = protective(facts, number) else {
                continue;
            };
            let unprotected = |node: usize| {
                self.passed(node)
                    .filter(|reached| reached.devices == 0)
                    .map(|reached| (reached.metres, node))
            };
            let near = match (unprotected(branch.from), unprotected(branch.to)) {
                (Some(from), Some(to)) => Some(if to.0 < from.0 { to } else { from }),
                (from, to) => from.or(to),
            };
            if let Some((_, node)) = near {
                first.push((device, node));
            }
        }
        first
    }

    /// How a node is reached, where the walk goes on from it.
    fn passed(&self, node: usize) -> Option<Reached> {
        self.nodes[node].filter(|_| !self.ends.contains(&node))
    }

    /// The first devices with the way to each.
    pub fn first_devices(&self, facts: &Facts<'_>) -> Vec<First> {
        let first = self.first(facts).into_iter();
        first
            .map(|(device, node)| First {
                device,
                way: self.way(node),
            })
            .collect()
    }

    /// How a wire, by its branch, stands to this source; `None` where the source does not lead to it.
    pub fn upstream(&self, branch: &Branch) -> Option<Upstream> {
        let (from, to) = (self.passed(branch.from), self.passed(branch.to));
        let (near, far) = match (from, to) {
            (Some(a), Some(b)) if (b.devices, b.metres) < (a.devices, a.metres) => (b, branch.from),
            (Some(a), _) => (a, branch.to),
            (None, Some(b)) => (b, branch.from),
            (None, None) => return None,
        };
        Some(match near.last_device {
            Some(device) => Upstream::Device(device),
            None if self.leads_to_device[far] => Upstream::LeadsToDevice,
            None => Upstream::Nothing,
        })
    }

    /// The branches from the source's plus to a device; `None` where it does not lead there.
    pub fn way_to(&self, facts: &Facts<'_>, device: Index<Device>) -> Option<Vec<usize>> {
        let number = facts.assembly.branch(Part::Device(device))?;
        let branch = &facts.assembly.branches[number];
        let order = |node: usize| {
            self.passed(node)
                .map(|reached| (reached.devices, reached.metres, node))
        };
        let (from, to) = (order(branch.from), order(branch.to));
        let (_, _, near) = match (from, to) {
            (Some(from), Some(to)) => Some(if to < from { to } else { from }),
            (from, to) => from.or(to),
        }?;
        Some(self.way(near))
    }

    /// The branches from the source's plus to a node.
    fn way(&self, node: usize) -> Vec<usize> {
        let mut way = Vec::new();
        let mut at = node;
        while let Some((branch, before)) = self.nodes[at].and_then(|reached| reached.by) {
            way.push(branch);
            at = before;
        }
        way.reverse();
        way
    }
}

/// Length of conductor of a branch; one that is unknown counts as none here, and whoever needs
/// the length of a way asks each wire of it.
fn metres(facts: &Facts<'_>, branch: usize) -> f64 {
    match facts.assembly.branches[branch].part {
        Part::Wire(wire) => facts
            .routing
            .electrical_length(facts.model, wire)
            .map_or(0.0, |length| length.value()),
        _ => 0.0,
    }
}
