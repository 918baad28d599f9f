//! What a person reads of a network that cannot be solved, and where its size ends.

use super::*;

#[test]
fn each_fault_names_its_element_the_value_and_what_to_do() {
    let element = Element::Load(4);
    let said = [
        (
            NetworkFault::ReferenceMissing {
                reference: 9,
                node_count: 3,
            },
            ["node 9", "0 to 2"],
        ),
        (
            NetworkFault::NodeMissing {
                element: Element::Conductor(2),
                node: 7,
                node_count: 3,
            },
            ["conductor 2", "7"],
        ),
        (
            NetworkFault::NotANumber {
                element: Element::Source(1),
                quantity: "volts",
                value: f64::INFINITY,
            },
            ["source 1", "inf"],
        ),
        (
            NetworkFault::LoadShorts {
                element,
                resistance: Ohms::ZERO,
            },
            ["load 4", "0"],
        ),
        (
            NetworkFault::LoopWithoutResistance { element },
            ["load 4", "resistance"],
        ),
        (NetworkFault::TooTangled { entries: 512 }, ["512", "loops"]),
    ];
    for (fault, parts) in said {
        let words = fault.to_string();
        for part in parts {
            assert!(words.contains(part), "{fault:?}: {words}");
        }
    }
}

#[test]
fn what_is_not_evaluated_says_why() {
    let said = [
        (NotEvaluated::NodeFloats { node: 12 }, "node 12"),
        (NotEvaluated::TooTangled { entries: 512 }, "512 entries"),
        (NotEvaluated::NotSettled { iterations: 99 }, "99 steps"),
    ];
    for (why, part) in said {
        let words = why.to_string();
        assert!(
            words.starts_with("not evaluated, because") && words.contains(part),
            "{words}"
        );
    }
}

#[test]
fn conductors_sources_and_loads_all_count_as_elements() {
    let parts = network(
        2,
        &[conductor(0, 1, 0.1), conductor(0, 1, 0.2)],
        &[source(0, 1, 12.0, 0.0)],
        &[amps(1, 0, 1.0), amps(1, 0, 1.0), amps(1, 0, 2.0)],
    );
    assert_eq!(parts.element_count(), 6);
}

#[test]
fn a_network_is_refused_from_the_first_element_or_node_too_many() {
    let refused = |parts: &Network| {
        let faults = parts.faults();
        matches!(faults.first(), Some(NetworkFault::TooLarge { .. }))
    };
    let wires = |count: usize| network(2, &vec![conductor(0, 1, 0.1); count], &[], &[]);
    assert!(!refused(&wires(MAX_ELEMENTS)));
    assert!(refused(&wires(MAX_ELEMENTS + 1)));
    let nodes = |count: usize| network(count, &[], &[], &[]);
    assert!(!refused(&nodes(MAX_ELEMENTS + 1)));
    assert!(refused(&nodes(MAX_ELEMENTS + 2)));
    let words = wires(MAX_ELEMENTS + 1).faults()[0].to_string();
    assert!(
        words.contains("200001") && words.contains("200000"),
        "{words}"
    );
}

#[test]
fn sources_of_the_same_volts_side_by_side_close_a_loop_and_others_contradict() {
    let with = |volts: f64| {
        let sources = [source(0, 1, 12.0, 0.0), source(0, 1, volts, 0.0)];
        faults(&network(2, &[], &sources, &[]))
    };
    let element = Element::Source(1);
    let loops = [NetworkFault::LoopWithoutResistance { element }];
    assert_eq!(with(12.0), loops);
    // Rounding in the last digits.
    assert_eq!(with(12.0 * (1.0 + 4.0 * f64::EPSILON)), loops);
    for volts in [12.001, -12.0] {
        let held = Volts::new(12.0);
        let stated = Volts::new(volts);
        let contradiction = NetworkFault::Contradiction {
            element,
            stated,
            held,
        };
        assert_eq!(with(volts), [contradiction]);
    }
}
