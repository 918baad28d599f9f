//! How the wiring of one state comes apart into systems.

use super::bridges::bridges;
use super::systems::{Consumer, Met, System, Systems, met_so};
use crate::boats::{BoatSet, Condition, TooWide};
use crate::model::{BoatModel, Index, Load, OperatingState, Source};
use crate::network::assembly::trace::{self, Reach};
use crate::network::assembly::{Assembly, Known, Part, Shared, SourceCondition};
use crate::network::{self, Behavior, Network, Prepared};
use crate::units::{Amperes, Ohms, Volts};
use petgraph::unionfind::UnionFind;
use std::collections::{BTreeMap, BTreeSet};

/// Shapes one part of the wiring may take in one state before it is given up (our practice: a
/// boat has a charger, a second bank and a bridge between them, not six of each).
const MOST_SHAPES: usize = 64;

/// The wiring of all boats in one state.
pub(super) struct Splitting<'a> {
    pub model: &'a BoatModel,
    pub assembly: &'a Assembly,
    pub boats: &'a BoatSet,
    /// Condition of each branch.
    pub when: &'a [Condition],
    pub state: Option<Index<OperatingState>>,
}

/// One part of the wiring in one shape.
struct Shape<'a> {
    branches: Vec<usize>,
    sources: Vec<(Index<Source>, usize, usize)>,
    shape: &'a [(Condition, bool)],
    /// Branches that lie on no loop: absent, they leave behind them nothing that runs.
    bridges: &'a BTreeSet<usize>,
}

/// Branches, sources and loads that make one system.
struct Wiring {
    branches: Vec<usize>,
    /// Places in the sources of the shape.
    sources: Vec<usize>,
    consumers: Vec<Consumer>,
}

impl Splitting<'_> {
    /// Takes it apart.
    ///
    /// # Errors
    /// [`TooWide`] where the conditions of one shape cannot be followed.
    pub fn split(&self, into: &mut Systems) -> Result<(), TooWide> {
        let assembly = self.assembly;
        let closed: Vec<usize> = (0..assembly.branches.len())
            .filter(
                |number| match (assembly.branches[*number].part, self.state) {
                    (Part::Device(device), Some(state)) => {
                        !self.model.devices[device].open_in.contains(&state)
                    }
                    _ => true,
                },
            )
            .collect();
        let active: Vec<_> = assembly
            .sources
            .iter()
            .filter(|(source, ..)| {
                let active = &self.model.sources[*source].active_in;
                active.is_empty() || self.state.is_some_and(|state| active.contains(&state))
            })
            .copied()
            .collect();
        let part_of = joined(assembly, &closed, &active);
        let mut parts: BTreeMap<usize, (Vec<usize>, Vec<_>)> = BTreeMap::new();
        for &source in &active {
            parts.entry(part_of[source.1]).or_default().1.push(source);
        }
        for number in closed {
            if let Some(part) = parts.get_mut(&part_of[assembly.branches[number].from]) {
                part.0.push(number);
            }
        }
        let mut loads: BTreeMap<usize, Vec<(Index<Load>, usize, usize)>> = BTreeMap::new();
        for &(load, plus, minus) in &assembly.loads {
            let stated = &self.model.loads[load];
            if !self.state.is_none_or(|state| stated.runs(state)) {
                continue;
            }
            if parts.contains_key(&part_of[plus]) {
                loads
                    .entry(part_of[plus])
                    .or_default()
                    .push((load, plus, minus));
            } else {
                into.unsupplied
                    .push((load, stated.fitted_when.simplified()));
            }
        }
        for (part, (branches, sources)) in parts {
            let loads = loads.remove(&part).unwrap_or_default();
            // Several sources give to each other without any load.
            if !loads.is_empty() || sources.len() > 1 {
                self.shapes(&branches, &sources, &loads, into)?;
            }
        }
        Ok(())
    }

    /// Each shape a part takes on some boat.
    fn shapes(
        &self,
        branches: &[usize],
        sources: &[(Index<Source>, usize, usize)],
        loads: &[(Index<Load>, usize, usize)],
        into: &mut Systems,
    ) -> Result<(), TooWide> {
        let ends = |number: &usize| {
            let branch = &self.assembly.branches[*number];
            (branch.from, branch.to)
        };
        let edges: Vec<_> = branches
            .iter()
            .map(ends)
            .chain(sources.iter().map(|&(_, minus, plus)| (minus, plus)))
            .collect();
        let alone = bridges(self.assembly.node_count(), &edges);
        let mut shaping = BTreeSet::new();
        let mut bridging = BTreeSet::new();
        for (&number, &alone) in branches.iter().zip(&alone) {
            if alone {
                bridging.insert(number);
            } else {
                shaping.insert(self.when[number].clone());
            }
        }
        let source_when = |source: &(Index<Source>, usize, usize)| {
            self.model.sources[source.0].fitted_when.simplified()
        };
        shaping.extend(sources.iter().map(source_when));
        shaping.remove(&Condition::Always);
        for shape in self.occurring(&shaping)? {
            let Some(shape) = shape else {
                into.given_up
                    .push(format!("more than {MOST_SHAPES} shapes of one system"));
                return Ok(());
            };
            let there = |condition: &Condition| {
                shape
                    .iter()
                    .find(|(known, _)| known == condition)
                    .is_none_or(|(_, met)| *met)
            };
            let kept: Vec<usize> = branches
                .iter()
                .copied()
                .filter(|number| bridging.contains(number) || there(&self.when[*number]))
                .collect();
            let sources: Vec<_> = sources
                .iter()
                .copied()
                .filter(|source| there(&source_when(source)))
                .collect();
            let shape = Shape {
                branches: kept,
                sources,
                shape: &shape,
                bridges: &bridging,
            };
            self.systems(&shape, loads, into);
        }
        Ok(())
    }

    /// The ways in which conditions are met and unmet together on some boat; `None` after too
    /// many.
    fn occurring(&self, conditions: &BTreeSet<Condition>) -> Result<Vec<Option<Met>>, TooWide> {
        let mut found: Vec<(BoatSet, Met)> = vec![(self.boats.clone(), Vec::new())];
        for condition in conditions {
            let mut next = Vec::new();
            for (boats, shape) in found {
                for met in [false, true] {
                    let asked = if met {
                        condition.clone()
                    } else {
                        condition.negated()
                    };
                    let narrowed = boats.narrowed(&asked)?;
                    if !narrowed.is_empty() {
                        let mut shape = shape.clone();
                        shape.push((condition.clone(), met));
                        next.push((narrowed, shape));
                    }
                }
            }
            if next.len() > MOST_SHAPES {
                return Ok(vec![None]);
            }
            found = next;
        }
        Ok(found.into_iter().map(|(_, shape)| Some(shape)).collect())
    }

    /// The systems of one shape: without a source in between, a part may fall apart.
    fn systems(
        &self,
        shape: &Shape<'_>,
        loads: &[(Index<Load>, usize, usize)],
        into: &mut Systems,
    ) {
        let assembly = self.assembly;
        let mut closed = vec![false; assembly.branches.len()];
        for &number in &shape.branches {
            closed[number] = true;
        }
        let graph = trace::graph(assembly.node_count(), &assembly.branches, &closed);
        let reaches: Vec<(Reach, Reach)> = shape
            .sources
            .iter()
            .map(|&(_, minus, plus)| (Reach::from(&graph, plus), Reach::from(&graph, minus)))
            .collect();
        let mut fed: Vec<(usize, Consumer)> = Vec::new();
        for &(load, plus, minus) in loads {
            let source = reaches
                .iter()
                .position(|(feed, back)| feed.reaches(plus) && back.reaches(minus));
            let fitted = self.model.loads[load].fitted_when.simplified();
            let Some(source) = source else {
                into.unsupplied.push((load, met_so(fitted, shape.shape)));
                continue;
            };
            let mut back = reaches[source].1.path(minus);
            back.reverse();
            let feed = reaches[source].0.path(plus);
            let mut way = self.directed(shape.sources[source].2, &feed);
            let out = way.len();
            way.extend(self.directed(minus, &back));
            let bridging = way
                .iter()
                .filter(|(number, _)| shape.bridges.contains(number));
            let when = bridging.fold(fitted.clone(), |when, (number, _)| {
                when.and(&self.when[*number])
            });
            if when != fitted {
                into.unsupplied.push((load, fitted.and(&when.negated())));
            }
            fed.push((
                plus,
                Consumer {
                    load,
                    when,
                    source,
                    way,
                    out,
                },
            ));
        }
        let part_of = joined(assembly, &shape.branches, &shape.sources);
        let mut parts: BTreeMap<usize, Vec<Consumer>> = BTreeMap::new();
        let mut first: BTreeSet<usize> = BTreeSet::new();
        for (_, minus, _) in &shape.sources {
            if !first.insert(part_of[*minus]) {
                parts.entry(part_of[*minus]).or_default();
            }
        }
        for (plus, consumer) in fed {
            parts.entry(part_of[plus]).or_default().push(consumer);
        }
        for (part, consumers) in parts {
            for wiring in self.apart(shape, &part_of, part, consumers) {
                let conditions = match wiring.consumers.is_empty() {
                    // At the lowest volts only loads are asked about.
                    true => &[SourceCondition::Nominal][..],
                    false => &[SourceCondition::Nominal, SourceCondition::Low],
                };
                for &condition in conditions {
                    match self.prepare(shape, &wiring, condition) {
                        Ok(system) => into.systems.push(system),
                        Err(why) => {
                            into.given_up.push(why);
                            let loads = wiring.consumers.iter();
                            into.not_prepared.extend(loads.map(|load| {
                                let runs = (load.when.clone(), true);
                                shape.shape.iter().cloned().chain([runs]).collect()
                            }));
                        }
                    }
                }
            }
        }
    }

    /// One part of the wiring, or the wiring of each source in it: where nothing forms a loop, the
    /// loads of two sources meet only if some branch carries current of both, and sources without
    /// loads give nothing.
    fn apart(
        &self,
        shape: &Shape<'_>,
        part_of: &[usize],
        part: usize,
        consumers: Vec<Consumer>,
    ) -> Vec<Wiring> {
        let sources: Vec<usize> = (0..shape.sources.len())
            .filter(|source| part_of[shape.sources[*source].1] == part)
            .collect();
        let branches: Vec<usize> = shape
            .branches
            .iter()
            .copied()
            .filter(|number| part_of[self.assembly.branches[*number].from] == part)
            .collect();
        let nodes = part_of.iter().filter(|of| **of == part).count();
        let has_loops = branches.len() + sources.len() >= nodes;
        let mut meeting = UnionFind::<usize>::new(shape.sources.len());
        let mut carries: BTreeMap<usize, usize> = BTreeMap::new();
        for consumer in &consumers {
            for (branch, _) in &consumer.way {
                let other = *carries.entry(*branch).or_insert(consumer.source);
                meeting.union(other, consumer.source);
            }
        }
        let group_of = meeting.into_labeling();
        let groups: BTreeSet<usize> = consumers.iter().map(|c| group_of[c.source]).collect();
        if has_loops || groups.len() == 1 {
            return vec![Wiring {
                branches,
                sources,
                consumers,
            }];
        }
        let of_group = |group: usize| {
            let own = |consumer: &&Consumer| group_of[consumer.source] == group;
            let consumers: Vec<Consumer> = consumers.iter().filter(own).cloned().collect();
            let ways = consumers.iter().flat_map(|consumer| &consumer.way);
            let passed: BTreeSet<usize> = ways.map(|(branch, _)| *branch).collect();
            let sources = sources.iter().copied();
            Wiring {
                branches: passed.into_iter().collect(),
                sources: sources.filter(|at| group_of[*at] == group).collect(),
                consumers,
            }
        };
        groups.into_iter().map(of_group).collect()
    }

    /// Branches of a path with whether they are passed from `from` to `to`.
    fn directed(&self, start: usize, path: &[usize]) -> Vec<(usize, bool)> {
        let mut at = start;
        path.iter()
            .map(|&number| {
                let branch = &self.assembly.branches[number];
                let forward = branch.from == at;
                at = if forward { branch.to } else { branch.from };
                (number, forward)
            })
            .collect()
    }

    fn prepare(
        &self,
        shape: &Shape<'_>,
        wiring: &Wiring,
        condition: SourceCondition,
    ) -> Result<System, String> {
        let assembly = self.assembly;
        let ends = wiring.branches.iter().flat_map(|number| {
            let branch = &assembly.branches[*number];
            [branch.from, branch.to]
        });
        let poles = wiring.sources.iter().flat_map(|source| {
            let (_, minus, plus) = shape.sources[*source];
            [minus, plus]
        });
        let nodes: BTreeSet<usize> = ends.chain(poles).collect();
        let node: BTreeMap<usize, usize> = nodes
            .into_iter()
            .enumerate()
            .map(|(number, node)| (node, number))
            .collect();
        let branches = wiring.branches.clone();
        let mut network = Network {
            node_count: node.len(),
            ..Network::default()
        };
        network.conductors = branches
            .iter()
            .map(|number| {
                let branch = &assembly.branches[*number];
                network::Conductor {
                    from: node[&branch.from],
                    to: node[&branch.to],
                    // Loads on the way of an unknown resistance are not evaluated.
                    resistance: branch.resistance.clone().unwrap_or(Ohms::ZERO),
                }
            })
            .collect();
        let mut place = vec![0; shape.sources.len()];
        let mut sources = Vec::new();
        for &number in &wiring.sources {
            let (source, minus, plus) = shape.sources[number];
            let stated = &self.model.sources[source];
            let emf = condition.volts(stated).ok_or_else(|| {
                format!(
                    "source {} states no voltage for the condition \"{}\"",
                    stated.id,
                    condition.word()
                )
            })?;
            if sources.is_empty() {
                network.reference = node[&minus];
            }
            place[number] = sources.len();
            sources.push((source, node[&minus], node[&plus]));
            network.sources.push(network::Source {
                from: node[&minus],
                to: node[&plus],
                emf,
                resistance: stated.internal.unwrap_or(Ohms::ZERO),
            });
        }
        let (mut loads, mut unknown) = (Vec::new(), Vec::new());
        let pole: BTreeMap<Index<Load>, (usize, usize)> = assembly
            .loads
            .iter()
            .map(|&(load, plus, minus)| (load, (plus, minus)))
            .collect();
        for consumer in &wiring.consumers {
            let consumer = Consumer {
                source: place[consumer.source],
                ..consumer.clone()
            };
            let Some(behavior) = self.model.loads[consumer.load].behavior else {
                unknown.push(consumer);
                continue;
            };
            let (plus, minus) = pole[&consumer.load];
            network.loads.push(network::Load {
                from: node[&plus],
                to: node[&minus],
                behavior: behavior.into(),
            });
            loads.push(consumer);
        }
        let faults = |faults: Vec<network::NetworkFault>| {
            let words: Vec<_> = faults.iter().map(ToString::to_string).collect();
            words.join("; ")
        };
        let mut unit = network.clone();
        for source in &mut unit.sources {
            source.emf = Volts::ZERO;
        }
        for load in &mut unit.loads {
            load.behavior = Behavior::Current(Amperes::new(1.0));
        }
        let known: Vec<Known<'_>> = branches
            .iter()
            .zip(&network.conductors)
            .map(|(&number, conductor)| {
                let why = assembly.branches[number].resistance.as_ref().err();
                (number, (conductor.from, conductor.to), why)
            })
            .collect();
        let poles: Vec<_> = sources.iter().map(|s| (s.1, s.2)).collect();
        Ok(System {
            shared: Shared::of(network.node_count, &known, &poles),
            state: self.state,
            condition,
            shape: shape.shape.to_vec(),
            network: Prepared::new(&network).map_err(faults)?,
            unit: Prepared::new(&unit).map_err(faults)?,
            sources,
            loads,
            unknown,
            branches,
        })
    }
}

/// A number for each node: equal where these branches or sources join them.
fn joined(
    assembly: &Assembly,
    branches: &[usize],
    sources: &[(Index<Source>, usize, usize)],
) -> Vec<usize> {
    let mut joined = UnionFind::new(assembly.node_count());
    for number in branches {
        let branch = &assembly.branches[*number];
        joined.union(branch.from, branch.to);
    }
    for &(_, minus, plus) in sources {
        joined.union(minus, plus);
    }
    joined.into_labeling()
}
