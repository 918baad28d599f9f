//! The network between clusters: links, potentials without current, and what is connected.
//!
//! The unknown of both solvers is the *drop* of each cluster: its base potential less its
//! volts. The base follows from the sources alone along a spanning tree, so drops hold only
//! what currents cause and keep their digits even where the volts are large.

use super::merge::{Clusters, merge};
use super::{Behavior, Load, Network, NetworkFault};

/// All conductors and sources between the same two clusters as one.
#[derive(Clone, Copy, Debug)]
pub(super) struct Link {
    pub(super) from: u32,
    pub(super) to: u32,
    pub(super) conductance: f64,
    /// Volts that drive current from `from` to `to` while there are no drops: zero but where
    /// sources of unequal volts meet in a loop.
    pub(super) push: f64,
}

/// A conductor or source with resistance: its current is
/// `conductance * (push + drop(to) - drop(from))`.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Path {
    pub(super) from: u32,
    pub(super) to: u32,
    pub(super) conductance: f64,
    pub(super) push: f64,
}

/// The network reduced to clusters and links.
#[derive(Clone, Debug)]
pub(super) struct Layout {
    pub(super) clusters: Clusters,
    /// Volts of each node while no current flows along the spanning tree.
    pub(super) node_base: Vec<f64>,
    pub(super) links: Vec<Link>,
    /// For each conductor, then each source: how its current follows from the drops. Elements
    /// without resistance have no conductance here.
    pub(super) paths: Vec<Path>,
    /// Links form a tree: the currents of the loads alone fix all others.
    pub(super) is_tree: bool,
    /// Nor do several conductors or sources share a link, parting what it carries.
    pub(super) has_one_way: bool,
    /// Some nodes are joined to the reference only through resistance loads.
    pub(super) needs_loads: bool,
    /// Largest volts of a source or between a node and the reference.
    pub(super) volts_scale: f64,
}

/// A path before links are known: `rise` is the volts of `to` above `from` without current.
struct Rise {
    path: usize,
    from: u32,
    to: u32,
    conductance: f64,
    rise: f64,
}

impl Layout {
    /// Merges, links and roots the network, or tells why it has no defined potentials.
    pub(super) fn new(network: &Network) -> Result<Self, Vec<NetworkFault>> {
        let clusters = merge(network)?;
        let rises = rises(network, &clusters);
        let mut paths = vec![Path::default(); network.conductors.len() + network.sources.len()];
        let (mut links, link_of_rise) = combine(&rises);
        let spread = Spread::new(network, &clusters, &links);
        spread.check_connected(network, &clusters)?;

        // Off the spanning tree a link's own volts and those of the bases may differ.
        let link_rises: Vec<f64> = links.iter().map(|link| link.push).collect();
        for (index, link) in links.iter_mut().enumerate() {
            link.push = if spread.tree_link[index] {
                0.0
            } else {
                link.push - (spread.base[link.to as usize] - spread.base[link.from as usize])
            };
        }
        for (rise, link) in rises.iter().zip(link_of_rise) {
            let push = match link {
                None => rise.rise,
                Some(link) if links[link].from == rise.from => {
                    rise.rise - link_rises[link] + links[link].push
                }
                Some(link) => rise.rise + link_rises[link] - links[link].push,
            };
            paths[rise.path] = Path {
                from: rise.from,
                to: rise.to,
                conductance: rise.conductance,
                push,
            };
        }
        let node_base: Vec<f64> = (0..network.node_count)
            .map(|node| spread.base[clusters.of_node[node] as usize] + clusters.offset[node])
            .collect();
        let volts_scale = node_base
            .iter()
            .copied()
            .chain(network.sources.iter().map(|source| source.emf.value()))
            .fold(0.0, |scale: f64, volts| scale.max(volts.abs()));
        let is_tree = !spread.needs_loads && links.len() + 1 == clusters.count;
        Ok(Self {
            is_tree,
            has_one_way: is_tree && links.len() == rises.len(),
            needs_loads: spread.needs_loads,
            clusters,
            node_base,
            links,
            paths,
            volts_scale,
        })
    }

    /// Neighbors of each cluster over links, with the place of the link.
    pub(super) fn link_neighbors(&self) -> Neighbors {
        let edges: Vec<(u32, u32)> = self.links.iter().map(|link| (link.from, link.to)).collect();
        Neighbors::new(self.clusters.count, &edges)
    }

    /// Lowest node that links and the resistance loads present do not join to the reference.
    pub(super) fn floating_node(&self, loads: &[Load], shares: &[f64]) -> Option<usize> {
        let bridges = loads
            .iter()
            .zip(shares)
            .filter(|(load, share)| {
                matches!(load.behavior, Behavior::Resistance(_)) && **share > 0.0
            })
            .map(|(load, _)| {
                (
                    self.clusters.of_node[load.from],
                    self.clusters.of_node[load.to],
                )
            });
        let edges: Vec<(u32, u32)> = self
            .links
            .iter()
            .map(|link| (link.from, link.to))
            .chain(bridges)
            .collect();
        let neighbors = Neighbors::new(self.clusters.count, &edges);
        let mut reached = vec![false; self.clusters.count];
        reached[0] = true;
        let mut stack = vec![0];
        while let Some(cluster) = stack.pop() {
            for &(other, _) in neighbors.of(cluster) {
                if !std::mem::replace(&mut reached[other as usize], true) {
                    stack.push(other);
                }
            }
        }
        self.clusters
            .of_node
            .iter()
            .position(|&cluster| !reached[cluster as usize])
    }
}

fn rises(network: &Network, clusters: &Clusters) -> Vec<Rise> {
    let conductors = network
        .conductors
        .iter()
        .map(|c| (c.from, c.to, 0.0, c.resistance));
    let sources = network
        .sources
        .iter()
        .map(|s| (s.from, s.to, s.emf.value(), s.resistance));
    conductors
        .chain(sources)
        .enumerate()
        .filter(|(_, (.., resistance))| resistance.value() > 0.0)
        .map(|(path, (from, to, emf, resistance))| Rise {
            path,
            from: clusters.of_node[from],
            to: clusters.of_node[to],
            conductance: 1.0 / resistance.value(),
            rise: emf + (clusters.offset[from] - clusters.offset[to]),
        })
        .collect()
}

/// One link for each pair of clusters, its `push` being its rise for now; and each path's link.
fn combine(rises: &[Rise]) -> (Vec<Link>, Vec<Option<usize>>) {
    let mut order: Vec<usize> = (0..rises.len())
        .filter(|&i| rises[i].from != rises[i].to)
        .collect();
    let pair = |i: usize| {
        let rise = &rises[i];
        (rise.from.min(rise.to), rise.from.max(rise.to))
    };
    order.sort_by_key(|&i| pair(i));
    let mut links: Vec<Link> = Vec::with_capacity(order.len());
    let mut link_of_rise = vec![None; rises.len()];
    for group in order.chunk_by(|&a, &b| pair(a) == pair(b)) {
        let (from, to) = pair(group[0]);
        let upward = |i: usize| {
            if rises[i].from == from {
                rises[i].rise
            } else {
                -rises[i].rise
            }
        };
        let conductance = group.iter().map(|&i| rises[i].conductance).sum();
        let first = upward(group[0]);
        // The first plus a mean of differences: exact where all are equal.
        let rise = first
            + group
                .iter()
                .map(|&i| rises[i].conductance * (upward(i) - first))
                .sum::<f64>()
                / conductance;
        for &i in group {
            link_of_rise[i] = Some(links.len());
        }
        links.push(Link {
            from,
            to,
            conductance,
            push: rise,
        });
    }
    (links, link_of_rise)
}

/// For each cluster its neighbors and the index of the edge to them, in the order of the edges.
pub(crate) struct Neighbors {
    first: Vec<u32>,
    entries: Vec<(u32, u32)>,
}

impl Neighbors {
    pub(crate) fn new(count: usize, edges: &[(u32, u32)]) -> Self {
        let mut first = vec![0; count + 1];
        for &(from, to) in edges {
            first[from as usize + 1] += 1;
            first[to as usize + 1] += 1;
        }
        for cluster in 0..count {
            first[cluster + 1] += first[cluster];
        }
        let mut next = first.clone();
        let mut entries = vec![(0, 0); edges.len() * 2];
        for (index, &(from, to)) in edges.iter().enumerate() {
            for (end, other) in [(from, to), (to, from)] {
                entries[next[end as usize] as usize] = (other, index as u32);
                next[end as usize] += 1;
            }
        }
        Self { first, entries }
    }

    pub(crate) fn of(&self, cluster: u32) -> &[(u32, u32)] {
        let cluster = cluster as usize;
        &self.entries[self.first[cluster] as usize..self.first[cluster + 1] as usize]
    }
}

/// Base potentials spread from the reference: over links first, then over resistance loads.
struct Spread {
    base: Vec<f64>,
    reached: Vec<bool>,
    tree_link: Vec<bool>,
    needs_loads: bool,
    /// Links and resistance loads.
    neighbors_all: Neighbors,
}

impl Spread {
    fn new(network: &Network, clusters: &Clusters, links: &[Link]) -> Self {
        let link_edges: Vec<(u32, u32)> = links.iter().map(|link| (link.from, link.to)).collect();
        let bridges: Vec<(u32, u32, f64)> = network
            .loads
            .iter()
            .filter(|load| matches!(load.behavior, Behavior::Resistance(_)))
            .map(|load| {
                let rise = clusters.offset[load.from] - clusters.offset[load.to];
                (clusters.of_node[load.from], clusters.of_node[load.to], rise)
            })
            .collect();
        let bridge_edges: Vec<(u32, u32)> = bridges.iter().map(|&(a, b, _)| (a, b)).collect();
        let by_link = Neighbors::new(clusters.count, &link_edges);
        let by_load = Neighbors::new(clusters.count, &bridge_edges);
        let mut base = vec![0.0; clusters.count];
        let mut reached = vec![false; clusters.count];
        let mut tree_link = vec![false; links.len()];
        let mut needs_loads = false;
        reached[0] = true;
        let mut stack = vec![0];
        let mut visited = Vec::with_capacity(clusters.count);
        let mut next_visited = 0;
        loop {
            while let Some(cluster) = stack.pop() {
                visited.push(cluster);
                for &(other, link) in by_link.of(cluster) {
                    if !std::mem::replace(&mut reached[other as usize], true) {
                        let link = link as usize;
                        tree_link[link] = true;
                        let upward = links[link].from == cluster;
                        let rise = if upward {
                            links[link].push
                        } else {
                            -links[link].push
                        };
                        base[other as usize] = base[cluster as usize] + rise;
                        stack.push(other);
                    }
                }
            }
            let Some(&cluster) = visited.get(next_visited) else {
                break;
            };
            next_visited += 1;
            for &(other, bridge) in by_load.of(cluster) {
                if !std::mem::replace(&mut reached[other as usize], true) {
                    needs_loads = true;
                    let (from, _, rise) = bridges[bridge as usize];
                    let rise = if from == cluster { rise } else { -rise };
                    base[other as usize] = base[cluster as usize] + rise;
                    stack.push(other);
                }
            }
        }
        let all: Vec<(u32, u32)> = link_edges.into_iter().chain(bridge_edges).collect();
        let neighbors_all = Neighbors::new(clusters.count, &all);
        Self {
            base,
            reached,
            tree_link,
            needs_loads,
            neighbors_all,
        }
    }

    /// One fault for each part that was not reached.
    fn check_connected(
        &self,
        network: &Network,
        clusters: &Clusters,
    ) -> Result<(), Vec<NetworkFault>> {
        if self.reached.iter().all(|&reached| reached) {
            return Ok(());
        }
        let mut nodes_of_cluster = vec![0; clusters.count];
        for &cluster in &clusters.of_node {
            nodes_of_cluster[cluster as usize] += 1;
        }
        let mut reached = self.reached.clone();
        let mut faults = Vec::new();
        for (node, &start) in clusters.of_node.iter().enumerate() {
            if std::mem::replace(&mut reached[start as usize], true) {
                continue;
            }
            let mut nodes_in_part = 0;
            let mut stack = vec![start];
            while let Some(cluster) = stack.pop() {
                nodes_in_part += nodes_of_cluster[cluster as usize];
                for &(other, _) in self.neighbors_all.of(cluster) {
                    if !std::mem::replace(&mut reached[other as usize], true) {
                        stack.push(other);
                    }
                }
            }
            let reference = network.reference;
            faults.push(NetworkFault::NotConnected {
                node,
                nodes_in_part,
                reference,
            });
        }
        Err(faults)
    }
}
