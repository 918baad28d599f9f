//! The bare diagram: layers of nodes, each with an arrow for *left out* and one for *fitted*.

use std::collections::BTreeMap;

/// An arrow to no boat.
pub(super) const NONE: u32 = u32::MAX;

/// One node: where to go in the next layer when the option of this layer is left out or fitted.
/// After the last layer there is a single end, number 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Node {
    pub(super) left_out: u32,
    pub(super) fitted: u32,
}

/// Layers in decision order. Every node is reached from the first layer and reaches the end, and
/// no two nodes of a layer have the same arrows: each path is one boat and each boat one path.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Layers {
    layers: Vec<Vec<Node>>,
    /// Whether there is any boat. With no layers left to tell: the boat without options.
    any: bool,
}

/// More states came up than allowed, in this layer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Overflow {
    pub(super) layer: usize,
}

impl Layers {
    /// Expands states layer by layer and merges what has equal futures.
    ///
    /// `decide(state, layer, fitted)` is the state after the decision, `None` when no boat
    /// follows. All states after the last layer must be equal.
    pub(super) fn expand<S: Ord>(
        depth: usize,
        start: Option<S>,
        most_states: usize,
        mut decide: impl FnMut(&S, usize, bool) -> Option<S>,
    ) -> Result<Self, Overflow> {
        let mut raw = Vec::with_capacity(depth);
        let mut states: Vec<S> = start.into_iter().collect();
        let mut total = states.len();
        for layer in 0..depth {
            let mut known: BTreeMap<S, u32> = BTreeMap::new();
            let mut nodes = Vec::with_capacity(states.len());
            for state in &states {
                let mut arrow = |fitted: bool| match decide(state, layer, fitted) {
                    None => NONE,
                    Some(next) => {
                        let number = known.len() as u32;
                        *known.entry(next).or_insert(number)
                    }
                };
                nodes.push(Node {
                    left_out: arrow(false),
                    fitted: arrow(true),
                });
                if total + known.len() > most_states {
                    return Err(Overflow { layer });
                }
            }
            total += known.len();
            let mut numbered: Vec<(u32, S)> = known
                .into_iter()
                .map(|(state, number)| (number, state))
                .collect();
            numbered.sort_unstable_by_key(|(number, _)| *number);
            states = numbered.into_iter().map(|(_, state)| state).collect();
            raw.push(nodes);
        }
        Ok(Self::merge(raw, !states.is_empty()))
    }

    /// The same layers without some arrows: those of a layer for which `allowed(layer, fitted)` is
    /// false.
    pub(super) fn without_arrows(&self, allowed: impl Fn(usize, bool) -> bool) -> Self {
        let mut raw = Vec::with_capacity(self.layers.len());
        // Nodes of the layer still reached, in the order they are numbered anew.
        let mut reached: Vec<u32> = if self.any { vec![0] } else { Vec::new() };
        for layer in 0..self.layers.len() {
            let width = self.layers.get(layer + 1).map_or(1, Vec::len);
            let mut numbers = vec![NONE; width];
            let mut next = Vec::new();
            let mut arrow = |node: u32, fitted: bool| {
                let to = self.follow(layer, node, fitted);
                if to == NONE || !allowed(layer, fitted) {
                    return NONE;
                }
                let number = &mut numbers[to as usize];
                if *number == NONE {
                    *number = next.len() as u32;
                    next.push(to);
                }
                *number
            };
            let nodes = reached
                .iter()
                .map(|&node| Node {
                    left_out: arrow(node, false),
                    fitted: arrow(node, true),
                })
                .collect();
            raw.push(nodes);
            reached = next;
        }
        Self::merge(raw, !reached.is_empty())
    }

    /// Merges from the last layer up: nodes that lead nowhere go, equal nodes become one.
    fn merge(mut raw: Vec<Vec<Node>>, any: bool) -> Self {
        let mut renumbered: Vec<u32> = if any { vec![0] } else { Vec::new() };
        for nodes in raw.iter_mut().rev() {
            let follow = |arrow: u32| match renumbered.get(arrow as usize) {
                Some(&number) => number,
                None => NONE,
            };
            let mut known: BTreeMap<Node, u32> = BTreeMap::new();
            let mut kept = Vec::new();
            let numbers = nodes
                .iter()
                .map(|node| {
                    let node = Node {
                        left_out: follow(node.left_out),
                        fitted: follow(node.fitted),
                    };
                    if node.left_out == NONE && node.fitted == NONE {
                        return NONE;
                    }
                    *known.entry(node).or_insert_with(|| {
                        kept.push(node);
                        kept.len() as u32 - 1
                    })
                })
                .collect();
            renumbered = numbers;
            *nodes = kept;
        }
        Self { layers: raw, any }
    }

    /// Layers without any boat.
    pub(super) fn none(depth: usize) -> Self {
        Self {
            layers: vec![Vec::new(); depth],
            any: false,
        }
    }

    /// Whether there is any boat.
    pub(super) fn any(&self) -> bool {
        self.any
    }

    /// The nodes of each layer, in decision order.
    pub(super) fn layers(&self) -> &[Vec<Node>] {
        &self.layers
    }

    /// The node a given decision leads to, or [`NONE`]; the start is node 0 of layer 0.
    pub(super) fn follow(&self, layer: usize, node: u32, fitted: bool) -> u32 {
        match self.layers[layer].get(node as usize) {
            None => NONE,
            Some(node) if fitted => node.fitted,
            Some(node) => node.left_out,
        }
    }

    /// Number of nodes in all layers.
    pub(super) fn node_count(&self) -> usize {
        self.layers.iter().map(Vec::len).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Boats of `depth` options with an even number fitted.
    fn even(depth: usize, most_states: usize) -> Result<Layers, Overflow> {
        Layers::expand(depth, Some(false), most_states, |odd, layer, fitted| {
            let odd = odd ^ fitted;
            (layer + 1 < depth || !odd).then_some(odd)
        })
    }

    #[test]
    fn parity_needs_two_nodes_a_layer() {
        let layers = even(10, 100).unwrap();
        assert_eq!(layers.node_count(), 1 + 2 * 9);
        assert!(layers.any());
    }

    #[test]
    fn more_states_than_allowed_is_an_answer() {
        assert_eq!(even(10, 20).map(|layers| layers.node_count()), Ok(19));
        assert_eq!(even(10, 19), Err(Overflow { layer: 9 }));
    }

    #[test]
    fn dead_ends_and_equal_nodes_go() {
        // Whatever is decided first, the second option may only be left out; states differ.
        let layers = Layers::expand(2, Some(0), 100, |&state, layer, fitted| match layer {
            0 => Some(u8::from(fitted) + 1),
            _ => (!fitted).then_some(state - state),
        })
        .unwrap();
        assert_eq!(layers.node_count(), 2);
        let none = Layers::expand(2, Some(0), 100, |_, layer, _| (layer == 0).then_some(0));
        let none = none.unwrap();
        assert!(!none.any() && none.node_count() == 0);
    }
}
