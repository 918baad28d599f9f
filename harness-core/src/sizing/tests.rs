//! Proposals against a brute force over the sizes, and against the sizes of a worked formula.

use super::*;
use crate::conductor::{Basis, ConductorQuestion, size};
use crate::file_format;
use crate::model::{AreaBasis, BoatModel, DcBundling, DropBasis};
use crate::rules::test_model::{model, study};
use crate::rules::{DROP_CODE, rule};
use crate::study::{BoatChoice, Study};
use crate::tables::{Insulation, RuleSet, conductors};
use crate::units::{Amperes, Celsius, Metres, SizeSeries, Volts, WireSize};

fn proposal(study: &Study, circuit: &str) -> CircuitSizing {
    let circuit = study.model.circuits.find(circuit).unwrap();
    size_circuit(&study.facts(), circuit).unwrap_or_else(|none| panic!("{none}"))
}

/// The study of the same model with other sizes.
fn resized(model: &BoatModel, sizes: &[(Index<Wire>, WireSize)]) -> Study {
    let mut model = model.clone();
    for (wire, size) in sizes {
        model.wires.change(*wire, |wire| wire.size = Some(*size));
    }
    Study::of(model, BoatChoice::Fullest).unwrap()
}

fn sizes_of(found: &CircuitSizing) -> Vec<(Index<Wire>, WireSize)> {
    found
        .wires
        .iter()
        .map(|wire| (wire.wire, wire.proposed))
        .collect()
}

/// What a circuit breaks of the rules that sizes have to do with.
fn broken(study: &Study, circuit: &str) -> Vec<String> {
    let circuit = study.model.circuits.find(circuit);
    study
        .findings
        .iter()
        .filter(|finding| finding.fails() && finding.place.circuit(&study.model) == circuit)
        .filter(|finding| rule(finding.rule).is_some_and(|rule| scope::sized_by(rule.subject)))
        .map(|finding| format!("{}: {}", finding.rule, finding.message))
        .collect()
}

/// The drop governs: the size is that of the plain formula for the whole way, which knows
/// nothing of networks (33 CFR 183.425 Table 5 and copper of IEC 60028 at 30 °C).
#[test]
fn one_circuit_gets_the_size_of_the_plain_formula() {
    for (current, class, limit) in [
        (5.0, "other", 10.0),
        (5.0, "critical", 3.0),
        (12.0, "critical", 3.0),
        (15.0, "other", 10.0),
        (60.0, "critical", 3.0),
    ] {
        let amperes = current.to_string();
        let class = format!("\"{class}\"");
        let study = study(&[
            ("loads/pump/current_a", amperes.as_str()),
            ("loads/pump/drop_class", class.as_str()),
            ("loads/pump/min_v", "0.1"),
            ("devices/fuse/rating_a", amperes.as_str()),
        ]);
        let by_formula = size(&ConductorQuestion {
            nominal: Volts::new(12.0),
            current: Amperes::new(current),
            round_trip: Metres::new(0.1 + 5.0 + 5.1),
            drop_limit_percent: limit,
            basis: Basis {
                method: DropBasis::CopperAtTemperature,
                area: AreaBasis::Awg,
                temperature: Celsius::new(30.0),
            },
            series: SizeSeries::Awg,
            rule_set: RuleSet::UsVoluntary,
            insulation: Insulation::from_degc(105.0).unwrap(),
            engine_space: false,
            bundled_conductors: 2,
            bundling: DcBundling::ByCount,
            governed_only_by_drop: false,
        });
        let expected = by_formula.size.unwrap();
        // The formula knows nothing of the least size of a single wire, 33 CFR 183.425 (e).
        let expected = if expected == "18 AWG" {
            "16 AWG".to_owned()
        } else {
            expected
        };
        for wire in &proposal(&study, "C1").wires {
            let found = wire.proposed.to_string();
            assert_eq!(found, expected, "{current} A, {limit} %: {wire:?}");
        }
    }
}

/// Each stocked size on feed, return and stub is judged as a study of its own: the proposal is
/// the thinnest that all three can share.
#[test]
fn a_brute_force_over_the_sizes_agrees() {
    let changes = [
        ("loads/pump/current_a", "18"),
        ("loads/pump/drop_class", "\"critical\""),
        ("devices/fuse/rating_a", "20"),
    ];
    let model = model(&changes);
    let study = study(&changes);
    let wires: Vec<_> = ["main", "feed", "return"]
        .map(|id| model.wires.find(id).unwrap())
        .into();
    let serves = |size: WireSize| {
        let sizes: Vec<_> = wires.iter().map(|wire| (*wire, size)).collect();
        broken(&resized(&model, &sizes), "C1").is_empty()
    };
    let smallest = conductors::stocked(SizeSeries::Awg)
        .map(|row| row.size)
        .find(|size| serves(*size))
        .unwrap();
    let found = proposal(&study, "C1");
    assert_eq!(found.wires.len(), 3);
    for wire in &found.wires {
        assert_eq!(wire.proposed, smallest);
        assert_eq!(wire.governed_by, Governor::Rule(DROP_CODE));
        assert!(wire.because.contains("limit 3 %"), "{}", wire.because);
    }
    // 10.2 m more copper: mass from the table, by hand.
    let mass = |size: WireSize| conductors::row(size).unwrap().mass_kg_per_km.value;
    let expected = 10.2 / 1000.0 * (mass(smallest) - mass("12 AWG".parse().unwrap()));
    let change = found.mass_change.unwrap().value();
    assert!((change - expected).abs() < 1e-9, "{change} {expected}");
}

/// Each failing circuit of the launch with a proposal: with it the circuit keeps its limits, one
/// size smaller on any governed wire it does not, and nothing was passed over on the way.
#[test]
fn proposals_for_the_failing_circuits_of_the_launch_hold() {
    let text = include_str!("../../../server/samples/launch-92.json");
    let model = file_format::read(text).unwrap();
    let study = Study::of(model.clone(), BoatChoice::Fullest).unwrap();
    let mut proposed = Vec::new();
    for (circuit, stated) in model.circuits.iter() {
        if broken(&study, &stated.id).is_empty() {
            continue;
        }
        let found = match size_circuit(&study.facts(), circuit) {
            Ok(found) => found,
            Err(NoSize::NoneEnough {
                with_other_contacts: Some(found),
                ..
            }) => *found,
            Err(other) => panic!("circuit {}: {other}", stated.id),
        };
        proposed.push(stated.id.as_str());
        let left: Vec<_> = found.left.iter().map(|finding| &finding.message).collect();
        let after = resized(&model, &sizes_of(&found));
        let new_in = |study: &Study| {
            let mut new = broken(study, &stated.id);
            new.retain(|message| !left.iter().any(|left| message.ends_with(left.as_str())));
            new
        };
        assert_eq!(
            new_in(&after),
            Vec::<String>::new(),
            "circuit {}",
            stated.id
        );
        // All governed wires together one size smaller.
        let smaller: Vec<_> = found
            .wires
            .iter()
            .map(|wire| (wire.wire, one_smaller(wire)))
            .collect();
        assert!(
            smaller == sizes_of(&found) || !new_in(&resized(&model, &smaller)).is_empty(),
            "circuit {}: one size smaller than {:#?} would do",
            stated.id,
            found
        );
    }
    assert!(
        !proposed.is_empty(),
        "the launch is shipped with circuits that fail"
    );
}

fn one_smaller(wire: &SizingProposal) -> WireSize {
    let sizes: Vec<_> = conductors::stocked(wire.proposed.series())
        .map(|row| row.size)
        .collect();
    let at = sizes
        .iter()
        .position(|size| *size == wire.proposed)
        .unwrap();
    match wire.governed_by {
        Governor::Rule(_) => sizes[at - 1],
        Governor::Contacts | Governor::SmallestStocked | Governor::BehindDevice => wire.proposed,
    }
}

#[test]
fn a_wire_that_asks_more_than_its_loads_is_raised_alone() {
    // 40 A over 0.3 m of main and 0.5 m out and back: no drop to speak of. In an engine space
    // at the fuse 40 A need 10 AWG (60 A · 0.85), as 12 AWG (45 A · 0.85) is not enough.
    let found = proposal(
        &study(&[
            ("loads/pump/current_a", "40"),
            ("devices/fuse/rating_a", "40"),
            ("runs/side/length_m", "0.2"),
            ("zones/bow/engine_space", "true"),
        ]),
        "C1",
    );
    let rows: Vec<_> = found
        .wires
        .iter()
        .map(|wire| (wire.proposed.to_string(), wire.governed_by.words()))
        .collect();
    assert_eq!(rows[1], ("10 AWG".to_owned(), "Conductor overloaded"));
    assert!(rows[0].0 == "12 AWG" || rows[0].0 == "10 AWG", "{rows:?}");
}

#[test]
fn contacts_hold_a_wire_back() {
    let changes = [
        ("loads/pump/current_a", "18"),
        ("loads/pump/drop_class", "\"critical\""),
        ("devices/fuse/rating_a", "20"),
        (
            "connector_types/+",
            r#"{"id": "k", "cavities": 2, "min_mm2": 0.75, "max_mm2": 2.2, "contact_resistance_mohm": 0}"#,
        ),
        (
            "connectors/+",
            r#"{"id": "plug", "connector_type": "k", "point": "at-pump",
                "plugs_into": {"equipment": "pump", "pins": [{"cavity": 1, "pin": "plus"}]}}"#,
        ),
        ("wires/feed/to", r#""plug.1""#),
    ];
    let study = study(&changes);
    let circuit = study.model.circuits.find("C1").unwrap();
    match size_circuit(&study.facts(), circuit) {
        // The return alone cannot make up for a feed of 14 AWG.
        Err(NoSize::NoneEnough {
            reason,
            with_other_contacts: Some(freely),
            ..
        }) => {
            assert!(reason.contains("connector type k at plug.1"), "{reason}");
            let misfits = freely.then_fails.iter().map(|finding| finding.rule);
            assert_eq!(misfits.collect::<Vec<_>>(), ["terminal_does_not_fit"]);
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn what_is_missing_is_said_and_nothing_proposed() {
    let study = study(&[("loads/pump/current_a", "null")]);
    let circuit = study.model.circuits.find("C1").unwrap();
    match size_circuit(&study.facts(), circuit) {
        Err(NoSize::NotEvaluated(why)) => assert!(why.because.contains("pump"), "{why}"),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_wire_without_a_size_gets_one() {
    let study = study(&[("wires/feed/size", "null")]);
    let feed = study.model.wires.find("feed").unwrap();
    let found = size_wire(&study.facts(), feed).unwrap();
    assert_eq!(found.wires.len(), 1);
    assert_eq!(found.wires[0].size_now, None);
    assert_eq!(found.wires[0].mass_change, None);
    assert!(found.changes_anything());
}

#[test]
fn terminals_to_replace_come_with_the_proposal() {
    let found = proposal(
        &study(&[
            ("loads/pump/current_a", "18"),
            ("loads/pump/drop_class", "\"critical\""),
            ("devices/fuse/rating_a", "20"),
            ("terminal_parts/ring/min_mm2", "2.5"),
            ("terminal_parts/ring/max_mm2", "6"),
        ]),
        "C1",
    );
    assert!(
        found
            .wires
            .iter()
            .all(|wire| wire.proposed > "10 AWG".parse().unwrap())
    );
    let replaced = found
        .then_fails
        .iter()
        .filter(|finding| finding.rule == "terminal_does_not_fit");
    assert_eq!(replaced.count(), 3);
}
