//! What belongs to each circuit on the boat judged, gathered in one pass over the model and the
//! findings: pages and reports ask for it circuit by circuit.

use crate::boats::{Boat, Condition};
use crate::model::{BoatModel, Circuit, Device, Index, Load, Wire};
use crate::rules::{Finding, Place};
use std::collections::BTreeMap;

/// Wires, loads and findings of each circuit.
#[derive(Clone, Debug, Default)]
pub struct ByCircuit {
    members: Vec<Members>,
    of_finding: Vec<Option<Index<Circuit>>>,
}

#[derive(Clone, Debug, Default)]
struct Members {
    wires: Vec<Index<Wire>>,
    loads: Vec<Index<Load>>,
    findings: Vec<usize>,
}

impl ByCircuit {
    /// Gathers what one boat has; without a boat, what any has.
    pub fn of(model: &BoatModel, boat: Option<&Boat>, findings: &[Finding]) -> Self {
        let has = |condition: &Condition| boat.is_none_or(|boat| condition.holds(boat));
        let mut members = vec![Members::default(); model.circuits.len()];
        for (at, wire) in model.wires.iter() {
            if let Some(circuit) = wire.circuit.filter(|_| has(&wire.fitted_when)) {
                members[circuit.number()].wires.push(at);
            }
        }
        for (at, load) in model.loads.iter() {
            if let Some(circuit) = load.circuit.filter(|_| has(&load.fitted_when)) {
                members[circuit.number()].loads.push(at);
            }
        }
        let devices = devices(model);
        let of_finding: Vec<_> = findings
            .iter()
            .map(|finding| match finding.place {
                Place::Device(at) => devices.get(&at).copied(),
                place => place.circuit(model),
            })
            .collect();
        for (number, circuit) in of_finding.iter().enumerate() {
            if let Some(circuit) = circuit {
                members[circuit.number()].findings.push(number);
            }
        }
        Self {
            members,
            of_finding,
        }
    }

    /// Wires of a circuit, in stated order.
    pub fn wires(&self, circuit: Index<Circuit>) -> &[Index<Wire>] {
        &self.members[circuit.number()].wires
    }

    /// Loads of a circuit, in stated order.
    pub fn loads(&self, circuit: Index<Circuit>) -> &[Index<Load>] {
        &self.members[circuit.number()].loads
    }

    /// Positions of the findings of a circuit, ascending.
    pub fn findings(&self, circuit: Index<Circuit>) -> &[usize] {
        &self.members[circuit.number()].findings
    }

    /// The circuit of the finding at a position.
    pub fn of_finding(&self, number: usize) -> Option<Index<Circuit>> {
        self.of_finding[number]
    }
}

/// The circuit of each device; of two that name it the one stated first.
fn devices(model: &BoatModel) -> BTreeMap<Index<Device>, Index<Circuit>> {
    let mut devices = BTreeMap::new();
    for (at, circuit) in model.circuits.iter() {
        for device in [circuit.device, circuit.switch].into_iter().flatten() {
            devices.entry(device).or_insert(at);
        }
    }
    devices
}

#[cfg(test)]
mod tests {
    use crate::file_format;
    use crate::study::{BoatChoice, Study};

    #[test]
    fn it_says_of_each_finding_what_its_place_says() {
        let text = include_str!("../../server/samples/launch-92.json");
        let study = Study::of(file_format::read(text).unwrap(), BoatChoice::Fullest).unwrap();
        let mut of_circuits = 0;
        for (number, finding) in study.findings.iter().enumerate() {
            let circuit = finding.place.circuit(&study.model);
            assert_eq!(study.by_circuit.of_finding(number), circuit);
            if let Some(circuit) = circuit {
                assert!(study.by_circuit.findings(circuit).contains(&number));
                of_circuits += 1;
            }
        }
        let listed: usize = study
            .model
            .circuits
            .indices()
            .map(|at| study.by_circuit.findings(at).len())
            .sum();
        assert_eq!(listed, of_circuits);
    }
}
