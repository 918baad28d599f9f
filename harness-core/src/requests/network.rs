//! Question: the operating point of any network with free node names.

use super::Request;
use crate::file_format::fault::Fault;
use crate::file_format::form::{Form, Shape, record};
use crate::network::{
    Behavior, Conductor, Element, Load, Network, NetworkFault, Outcome, Prepared, Scratch, Source,
};
use crate::units::{Amperes, Ohms, Volts, Watts, bounds};
use serde::Serialize;
use std::collections::BTreeMap;

/// Name of the node at 0 V.
const REFERENCE: &str = "0";

record! {
    /// A source of fixed volts behind a resistance; its plus is `to`.
    SourceElement
    required {
        /// Name, unique among the sources.
        id: String = Shape::Text;
        /// Node at the minus.
        from: String = Shape::Text;
        /// Node at the plus.
        to: String = Shape::Text;
        /// Volts with no current.
        volts: f64 = Shape::Number(&bounds::ANY_VOLTS);
        /// Inner resistance.
        ohms: f64 = Shape::Number(&bounds::OHMS);
    }
    optional {}
}

record! {
    /// A resistance between two nodes.
    ConductorElement
    required {
        /// Name, unique among the conductors.
        id: String = Shape::Text;
        /// Node at one end.
        from: String = Shape::Text;
        /// Node at the other end.
        to: String = Shape::Text;
        /// Resistance.
        ohms: f64 = Shape::Number(&bounds::OHMS);
    }
    optional {}
}

record! {
    /// A load; its current flows from `from` to `to`. State one of amps, watts, ohms.
    LoadElement
    required {
        /// Name, unique among the loads.
        id: String = Shape::Text;
        /// Node at the feed.
        from: String = Shape::Text;
        /// Node at the return.
        to: String = Shape::Text;
    }
    optional {
        /// Constant current.
        amps: Option<f64> = Shape::Number(&bounds::ANY_AMPERES);
        /// Constant power.
        watts: Option<f64> = Shape::Number(&bounds::ANY_WATTS);
        /// Resistance.
        ohms: Option<f64> = Shape::Number(&bounds::OHMS_ABOVE_NONE);
    }
}

record! {
    /// Question: the operating point of a network. Node names are free; `0` is the reference.
    NetworkRequest
    required {
        /// Sources.
        sources: Vec<SourceElement> = Shape::List(&Shape::Record(SourceElement::FORM), 1);
    }
    optional {
        /// Wires, contacts, fuses, switches.
        conductors: Vec<ConductorElement> = Shape::List(&Shape::Record(ConductorElement::FORM), 0);
        /// Equipment.
        loads: Vec<LoadElement> = Shape::List(&Shape::Record(LoadElement::FORM), 0);
    }
}

/// Volts of one node.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NodeAnswer {
    /// The node.
    pub id: String,
    /// Volts above the reference.
    pub volts: f64,
}

/// Current of one conductor.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ConductorAnswer {
    /// The conductor.
    pub id: String,
    /// Current from its `from` to its `to`.
    pub amps: f64,
    /// Volts lost along it in that direction.
    pub drop_v: f64,
}

/// Operating point of one load.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LoadAnswer {
    /// The load.
    pub id: String,
    /// Volts across it.
    pub volts: f64,
    /// Its current.
    pub amps: f64,
}

/// Where the loads ask for more than the wires can carry.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CollapseAnswer {
    /// Load at which the volts collapse.
    pub load: String,
    /// Largest share of all constant-power loads that still has an operating point.
    pub share: f64,
    /// Volts at that load with that share.
    pub volts: f64,
}

/// The operating point, or that there is none.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NetworkAnswer {
    /// `solved`, `no operating point` or `not evaluated`.
    pub status: &'static str,
    /// Why it was not evaluated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub because: Option<String>,
    /// Where it fails, if there is no operating point.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub collapse: Option<CollapseAnswer>,
    /// Every node, in order of first mention.
    pub nodes: Vec<NodeAnswer>,
    /// Every conductor, in the order given.
    pub conductors: Vec<ConductorAnswer>,
    /// Every load, in the order given.
    pub loads: Vec<LoadAnswer>,
    /// Iterations taken.
    pub iterations: usize,
    /// Largest sum of currents at a node.
    pub current_residual_a: f64,
    /// Power of the sources less loads and losses.
    pub power_residual_w: f64,
}

impl NetworkAnswer {
    fn without_point(status: &'static str) -> Self {
        Self {
            status,
            because: None,
            collapse: None,
            nodes: Vec::new(),
            conductors: Vec::new(),
            loads: Vec::new(),
            iterations: 0,
            current_residual_a: 0.0,
            power_residual_w: 0.0,
        }
    }
}

/// Numbers nodes by first mention.
#[derive(Default)]
struct Nodes {
    names: Vec<String>,
    numbers: BTreeMap<String, usize>,
}

impl Nodes {
    fn number(&mut self, name: &str) -> usize {
        if let Some(&number) = self.numbers.get(name) {
            return number;
        }
        self.names.push(name.to_owned());
        self.numbers.insert(name.to_owned(), self.names.len() - 1);
        self.names.len() - 1
    }
}

impl Request for NetworkRequest {
    type Answer = NetworkAnswer;
    const FORM: &'static Form = NetworkRequest::FORM;

    fn answer(self) -> Result<NetworkAnswer, Vec<Fault>> {
        let (network, nodes) = self.network()?;
        let prepared = Prepared::new(&network).map_err(|faults| {
            faults
                .iter()
                .map(|fault| self.fault(&nodes, fault))
                .collect::<Vec<_>>()
        })?;
        Ok(match prepared.solve(&mut Scratch::default()) {
            Outcome::Solved(found) => {
                let lost = |element: &Conductor| {
                    found.node_volts[element.from] - found.node_volts[element.to]
                };
                NetworkAnswer {
                    nodes: nodes
                        .names
                        .into_iter()
                        .zip(&found.node_volts)
                        .map(|(id, volts)| NodeAnswer {
                            id,
                            volts: volts.value(),
                        })
                        .collect(),
                    conductors: self
                        .conductors
                        .into_iter()
                        .zip(found.conductor_amps.iter().zip(&network.conductors))
                        .map(|(stated, (amps, element))| ConductorAnswer {
                            id: stated.id,
                            amps: amps.value(),
                            drop_v: lost(element).value(),
                        })
                        .collect(),
                    loads: self
                        .loads
                        .into_iter()
                        .zip(found.load_volts.iter().zip(&found.load_amps))
                        .map(|(stated, (volts, amps))| LoadAnswer {
                            id: stated.id,
                            volts: volts.value(),
                            amps: amps.value(),
                        })
                        .collect(),
                    iterations: found.iterations,
                    current_residual_a: found.current_residual.value(),
                    power_residual_w: found.power_residual.value(),
                    ..NetworkAnswer::without_point("solved")
                }
            }
            Outcome::NoOperatingPoint(collapse) => NetworkAnswer {
                collapse: Some(CollapseAnswer {
                    load: self.loads[collapse.load].id.clone(),
                    share: collapse.share,
                    volts: collapse.volts.value(),
                }),
                ..NetworkAnswer::without_point("no operating point")
            },
            Outcome::NotEvaluated(why) => NetworkAnswer {
                because: Some(why.to_string()),
                ..NetworkAnswer::without_point("not evaluated")
            },
        })
    }
}

impl NetworkRequest {
    fn network(&self) -> Result<(Network, Nodes), Vec<Fault>> {
        let mut faults = Vec::new();
        let mut nodes = Nodes::default();
        let reference = nodes.number(REFERENCE);
        once(
            "sources",
            self.sources.iter().map(|element| &element.id),
            &mut faults,
        );
        once(
            "conductors",
            self.conductors.iter().map(|element| &element.id),
            &mut faults,
        );
        once(
            "loads",
            self.loads.iter().map(|element| &element.id),
            &mut faults,
        );
        let sources = self
            .sources
            .iter()
            .map(|stated| Source {
                from: nodes.number(&stated.from),
                to: nodes.number(&stated.to),
                emf: Volts::new(stated.volts),
                resistance: Ohms::new(stated.ohms),
            })
            .collect();
        let conductors = self
            .conductors
            .iter()
            .map(|stated| Conductor {
                from: nodes.number(&stated.from),
                to: nodes.number(&stated.to),
                resistance: Ohms::new(stated.ohms),
            })
            .collect();
        let mut loads = Vec::with_capacity(self.loads.len());
        for (place, stated) in self.loads.iter().enumerate() {
            let behavior = match (stated.amps, stated.watts, stated.ohms) {
                (Some(amps), None, None) => Behavior::Current(Amperes::new(amps)),
                (None, Some(watts), None) => Behavior::Power(Watts::new(watts)),
                (None, None, Some(ohms)) => Behavior::Resistance(Ohms::new(ohms)),
                _ => {
                    faults.push(Fault {
                        pointer: format!("/loads/{place}"),
                        detail: format!(
                            "Load \"{}\" has to state exactly one of amps, watts and ohms.",
                            stated.id
                        ),
                        given: stated.id.clone(),
                        limit: "one of amps, watts, ohms".to_owned(),
                    });
                    continue;
                }
            };
            let (from, to) = (nodes.number(&stated.from), nodes.number(&stated.to));
            loads.push(Load { from, to, behavior });
        }
        if !nodes_used(&self.sources, &self.conductors, &self.loads).any(|name| name == REFERENCE) {
            faults.push(Fault {
                pointer: "/sources".to_owned(),
                detail: format!("No element ends at the reference node \"{REFERENCE}\"."),
                given: String::new(),
                limit: format!("one node named \"{REFERENCE}\""),
            });
        }
        if !faults.is_empty() {
            return Err(faults);
        }
        let node_count = nodes.names.len();
        Ok((
            Network {
                node_count,
                reference,
                conductors,
                sources,
                loads,
            },
            nodes,
        ))
    }

    fn fault(&self, nodes: &Nodes, fault: &NetworkFault) -> Fault {
        let (place, detail) = match fault {
            NetworkFault::NodeMissing { element, .. }
            | NetworkFault::NotANumber { element, .. }
            | NetworkFault::NegativeResistance { element, .. }
            | NetworkFault::LoadShorts { element, .. }
            | NetworkFault::Contradiction { element, .. }
            | NetworkFault::LoopWithoutResistance { element } => {
                (Some(*element), fault.to_string())
            }
            NetworkFault::NotConnected {
                node,
                nodes_in_part,
                ..
            } => (
                None,
                format!(
                    "Node \"{}\" and the part it belongs to ({nodes_in_part} nodes) are not joined \
                     to the reference node \"{REFERENCE}\" by any conductor, source or resistance \
                     load, so their volts cannot be known. Join them, or solve them on their own.",
                    nodes.names[*node]
                ),
            ),
            NetworkFault::TooLarge { .. }
            | NetworkFault::ReferenceMissing { .. }
            | NetworkFault::TooTangled { .. } => (None, fault.to_string()),
        };
        let (pointer, given) = match place {
            Some(Element::Source(at)) => (format!("/sources/{at}"), self.sources[at].id.clone()),
            Some(Element::Conductor(at)) => {
                (format!("/conductors/{at}"), self.conductors[at].id.clone())
            }
            Some(Element::Load(at)) => (format!("/loads/{at}"), self.loads[at].id.clone()),
            None => (String::new(), String::new()),
        };
        Fault {
            pointer,
            detail,
            given,
            limit: String::new(),
        }
    }
}

fn nodes_used<'a>(
    sources: &'a [SourceElement],
    conductors: &'a [ConductorElement],
    loads: &'a [LoadElement],
) -> impl Iterator<Item = &'a str> {
    let sources = sources
        .iter()
        .flat_map(|element| [&element.from, &element.to]);
    let conductors = conductors
        .iter()
        .flat_map(|element| [&element.from, &element.to]);
    let loads = loads
        .iter()
        .flat_map(|element| [&element.from, &element.to]);
    sources.chain(conductors).chain(loads).map(String::as_str)
}

/// A fault for each name that stands twice in a list.
fn once<'a>(list: &str, ids: impl Iterator<Item = &'a String>, faults: &mut Vec<Fault>) {
    let mut first = BTreeMap::new();
    for (place, id) in ids.enumerate() {
        if let Some(before) = first.insert(id, place) {
            faults.push(Fault {
                pointer: format!("/{list}/{place}/id"),
                detail: format!("\"{id}\" is the name of /{list}/{before} already. Rename one."),
                given: id.clone(),
                limit: "a name used once".to_owned(),
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::requests::{NetworkRequest, answer};
    use serde_json::json;

    #[test]
    fn a_power_load_settles_at_the_high_volts() {
        // V = (Vs + sqrt(Vs² - 4PR)) / 2, the closed form for one load behind one resistance.
        let found = answer::<NetworkRequest>(json!({
            "sources": [{"id": "bank", "from": "0", "to": "plus", "volts": 12.0, "ohms": 0.0}],
            "conductors": [{"id": "feed", "from": "plus", "to": "lamp", "ohms": 0.1}],
            "loads": [{"id": "lamp", "from": "lamp", "to": "0", "watts": 60.0}],
        }))
        .unwrap();
        let expected = (12.0 + (144.0_f64 - 24.0).sqrt()) / 2.0;
        assert!((found.loads[0].volts - expected).abs() < 1e-9);
        assert_eq!(found.status, "solved");
    }

    #[test]
    fn too_much_power_has_no_operating_point_and_says_where() {
        let found = answer::<NetworkRequest>(json!({
            "sources": [{"id": "bank", "from": "0", "to": "plus", "volts": 12.0, "ohms": 0.0}],
            "conductors": [{"id": "feed", "from": "plus", "to": "lamp", "ohms": 0.1}],
            "loads": [{"id": "lamp", "from": "lamp", "to": "0", "watts": 361.0}],
        }))
        .unwrap();
        assert_eq!(found.status, "no operating point");
        let collapse = found.collapse.unwrap();
        assert_eq!(collapse.load, "lamp");
        assert!((collapse.share - 360.0 / 361.0).abs() < 1e-5);
    }

    #[test]
    fn faults_name_the_element_and_come_together() {
        let faults = answer::<NetworkRequest>(json!({
            "sources": [{"id": "a", "from": "0", "to": "p", "volts": 12, "ohms": 0},
                        {"id": "a", "from": "0", "to": "p", "volts": 13, "ohms": 0}],
            "loads": [{"id": "x", "from": "p", "to": "0", "watts": 1, "amps": 1}],
        }))
        .unwrap_err();
        let places: Vec<_> = faults.iter().map(|fault| fault.pointer.as_str()).collect();
        assert_eq!(places, ["/sources/1/id", "/loads/0"]);
        let faults = answer::<NetworkRequest>(json!({
            "sources": [{"id": "a", "from": "0", "to": "p", "volts": 12, "ohms": 0},
                        {"id": "b", "from": "0", "to": "p", "volts": 13, "ohms": 0}],
        }))
        .unwrap_err();
        assert_eq!(faults[0].pointer, "/sources/1");
    }
}
