//! Points and runs as a graph, and shortest paths in it.

use super::path::{Leg, Path, Unroutable};
use crate::model::{BoatModel, Identified, Index, Point, Run, Wire};
use crate::units::Metres;
use crate::working::NotEvaluated;
use petgraph::graph::{NodeIndex, UnGraph};
use petgraph::visit::EdgeRef;
use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

/// Points and the runs between them. Runs that are closed to wires or have no length are kept
/// out, since no shortest path can be told through them.
#[derive(Debug)]
pub struct RunGraph {
    graph: UnGraph<Index<Point>, (Index<Run>, f64)>,
    lengths: Vec<Result<Metres, NotEvaluated>>,
}

/// Shortest distances from one point, with the run by which each point is reached.
struct Reached {
    distance: Vec<f64>,
    by: Vec<Option<(Index<Run>, usize)>>,
}

/// A distance that sorts; path lengths are finite and not negative.
struct Sorted(f64);

impl Ord for Sorted {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.0.total_cmp(&other.0)
    }
}

impl PartialOrd for Sorted {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Sorted {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}

impl Eq for Sorted {}

impl RunGraph {
    /// The graph of a model.
    pub fn of(model: &BoatModel) -> Self {
        let lengths: Vec<_> = model
            .runs
            .iter()
            .map(|(_, run)| length(model, run))
            .collect();
        let mut graph = UnGraph::with_capacity(model.points.len(), model.runs.len());
        let nodes: Vec<_> = model
            .points
            .indices()
            .map(|point| graph.add_node(point))
            .collect();
        for (index, run) in model.runs.iter() {
            if let (false, Ok(length)) = (run.closed_to_wires, &lengths[index.number()]) {
                let ends = (nodes[run.from.number()], nodes[run.to.number()]);
                graph.add_edge(ends.0, ends.1, (index, length.value()));
            }
        }
        Self { graph, lengths }
    }

    /// The lengths of all runs.
    pub fn into_lengths(self) -> Vec<Result<Metres, NotEvaluated>> {
        self.lengths
    }

    /// The path of every wire. Wires without runs to avoid share one search a starting point.
    pub fn paths(&self, model: &BoatModel) -> Vec<Result<Path, Unroutable>> {
        let mut searched: BTreeMap<Index<Point>, Reached> = BTreeMap::new();
        model
            .wires
            .iter()
            .map(|(_, wire)| {
                let stops = stops(model, wire)?;
                let mut legs = Vec::new();
                for pair in stops.windows(2) {
                    let own_search;
                    let reached = if wire.avoid.is_empty() {
                        searched
                            .entry(pair[0])
                            .or_insert_with(|| self.search(pair[0], &[]))
                    } else {
                        own_search = self.search(pair[0], &wire.avoid);
                        &own_search
                    };
                    legs.extend(self.legs(model, reached, wire, pair[0], pair[1])?);
                }
                let length = legs.iter().map(|leg| self.run_length(leg.run)).sum();
                Ok(Path {
                    from: stops[0],
                    legs,
                    length,
                })
            })
            .collect()
    }

    /// Meters from one point to each point along open runs; infinite where none lead there.
    pub fn distances(&self, from: Index<Point>) -> Vec<f64> {
        self.search(from, &[]).distance
    }

    fn run_length(&self, run: Index<Run>) -> Metres {
        self.lengths[run.number()]
            .as_ref()
            .copied()
            .unwrap_or(Metres::ZERO)
    }

    /// Dijkstra from one point; of equal distances the run stated first wins, so that the same
    /// model gives the same paths. (The library's own gives distances without the runs.)
    fn search(&self, from: Index<Point>, avoid: &[Index<Run>]) -> Reached {
        let count = self.graph.node_count();
        let mut reached = Reached {
            distance: vec![f64::INFINITY; count],
            by: vec![None; count],
        };
        reached.distance[from.number()] = 0.0;
        let mut queue = BinaryHeap::from([(Reverse(Sorted(0.0)), Reverse(from.number()))]);
        while let Some((Reverse(Sorted(distance)), Reverse(at))) = queue.pop() {
            if distance > reached.distance[at] {
                continue;
            }
            for edge in self.graph.edges(NodeIndex::new(at)) {
                let (run, length) = *edge.weight();
                if avoid.contains(&run) {
                    continue;
                }
                let next = edge.target().index();
                let candidate = distance + length;
                let better = candidate < reached.distance[next]
                    || candidate == reached.distance[next]
                        && reached.by[next].is_some_and(|(known, _)| run < known);
                if better {
                    reached.distance[next] = candidate;
                    reached.by[next] = Some((run, at));
                    queue.push((Reverse(Sorted(candidate)), Reverse(next)));
                }
            }
        }
        reached
    }

    fn legs(
        &self,
        model: &BoatModel,
        reached: &Reached,
        wire: &Wire,
        from: Index<Point>,
        to: Index<Point>,
    ) -> Result<Vec<Leg>, Unroutable> {
        let mut legs = Vec::new();
        let mut at = to.number();
        while at != from.number() {
            let Some((run, before)) = reached.by[at] else {
                return Err(Unroutable::no_path(model, wire, from, to, &self.lengths));
            };
            let forward = model.runs[run].to.number() == at;
            legs.push(Leg { run, forward });
            at = before;
        }
        legs.reverse();
        Ok(legs)
    }
}

/// The points a wire has to pass, from its first end to its second.
fn stops(model: &BoatModel, wire: &Wire) -> Result<Vec<Index<Point>>, Unroutable> {
    let place = |pin: crate::model::Pin| {
        let equipment = pin.equipment();
        equipment.point(model).ok_or_else(|| Unroutable {
            wire: wire.id().to_owned(),
            reason: format!("{} is at no stated point", equipment.id(model)),
        })
    };
    let mut stops = vec![place(wire.from)?];
    stops.extend(&wire.through);
    stops.push(place(wire.to)?);
    Ok(stops)
}

fn length(model: &BoatModel, run: &Run) -> Result<Metres, NotEvaluated> {
    if let Some(stated) = run.stated_length {
        return Ok(stated);
    }
    let place = |point: Index<Point>| {
        let point = &model.points[point];
        Some([point.x?.value(), point.y?.value(), point.z?.value()])
    };
    match (place(run.from), place(run.to)) {
        (Some(from), Some(to)) => {
            let squares = from
                .iter()
                .zip(to)
                .map(|(a, b)| (b - a) * (b - a))
                .sum::<f64>();
            Ok(Metres::new(squares.sqrt() / 1000.0))
        }
        _ => Err(NotEvaluated::because(format!(
            "run {} states no length, and its points do not state all of x, y and z",
            run.id()
        ))),
    }
}
