use super::*;
use crate::file_format;
use crate::study::BoatChoice;
use crate::units::WireSize;
use std::collections::BTreeSet;

const LAUNCH: &str = include_str!("../../../server/samples/launch-92.json");
const TENDER: &str = include_str!("../../../server/samples/tender-56.json");

fn study(text: &str) -> Study {
    Study::of(file_format::read(text).unwrap(), BoatChoice::Every).unwrap()
}

fn light(point: &str) -> Ask {
    Ask {
        code: String::new(),
        name: "Deck light, bow".to_owned(),
        draws: Draws::Current(3.0),
        stated_at_v: Some(12.0),
        inrush_a: None,
        min_v: Some(9.5),
        drop_class: None,
        function: None,
        runs_in: Vec::new(),
        point: point.to_owned(),
        ordered: Vec::new(),
        take_rate: Some(0.3),
        figures: Figures::default(),
        decided: Decided::default(),
    }
}

/// What fails on some boat, in words that hold in both models.
fn failing(study: &Study) -> BTreeSet<String> {
    let fails = study.findings.iter().filter(|finding| finding.fails());
    fails
        .map(|finding| format!("{} {}", finding.rule, finding.place.label(&study.model)))
        .collect()
}

fn after(proposal: &Proposal) -> Study {
    study(&file_format::write_record(&proposal.record))
}

/// Feed and return, each from pin to pin without a gap, on places free before.
fn holds_together(before: &Study, proposal: &Proposal) {
    let record = &proposal.record;
    let own: Vec<_> = record
        .wires
        .iter()
        .filter(|wire| wire.circuit.as_deref() == Some(proposal.circuit.as_str()))
        .collect();
    let ends = |role: &str| {
        let wires = own.iter().filter(|wire| wire.role.as_deref() == Some(role));
        wires
            .map(|wire| (wire.from.clone(), wire.to.clone()))
            .collect::<Vec<_>>()
    };
    let (feed, back) = (ends("feed"), ends("return"));
    assert!(
        !feed.is_empty() && feed.len() == back.len(),
        "{feed:?} {back:?}"
    );
    assert_eq!(feed.last().unwrap().1, format!("{}.plus", proposal.load));
    assert_eq!(back[0].0, format!("{}.minus", proposal.load));
    let mut used = BTreeSet::new();
    for wire in before.model.wires.iter().map(|(_, wire)| wire) {
        used.insert(wire.from.label(&before.model));
        used.insert(wire.to.label(&before.model));
    }
    for (from, to) in feed.iter().chain(&back) {
        for pin in [from, to] {
            assert!(used.insert(pin.clone()), "{pin} was taken");
        }
    }
    let load = record.loads.last().unwrap();
    assert!(load.fitted_when.is_some() && load.circuit.is_some());
    assert!(record.devices.last().unwrap().fitted_in.is_some());
}

#[test]
fn a_light_at_the_far_end_breaks_nothing_on_any_boat() {
    for (text, point) in [
        (LAUNCH, "bow-light"),
        (TENDER, "bow-light"),
        (LAUNCH, "mast-top"),
    ] {
        let before = study(text);
        let proposal = propose(&before, &light(point), &[]).unwrap();
        for choice in &proposal.choices {
            assert!(
                !choice.words.is_empty() && choice.reason.len() > 10,
                "{choice:?}"
            );
        }
        holds_together(&before, &proposal);
        let then = after(&proposal);
        let new: Vec<_> = failing(&then)
            .difference(&failing(&before))
            .cloned()
            .collect();
        assert!(new.is_empty(), "{point}: {new:#?} {:#?}", proposal.cautions);
        assert!(then.model.options.find("deck-light-bow").is_some());
        assert!(then.boats.count() > before.boats.count());
    }
}

/// The price of each size alike, so that the cost is that of all meters.
#[test]
fn its_conductor_costs_on_every_boat_or_on_the_average_one() {
    let before = study(TENDER);
    let ask = Ask {
        take_rate: Some(0.25),
        ..light("bow-light")
    };
    let parts = r#"{"format_version": 1, "conductors": [
        {"id": "A", "size": "18 AWG", "price_per_m": 2}, {"id": "B", "size": "16 AWG", "price_per_m": 2},
        {"id": "C", "size": "14 AWG", "price_per_m": 2}, {"id": "D", "size": "12 AWG", "price_per_m": 2}]}"#;
    let parts = file_format::read_parts(parts).unwrap().conductors;
    let proposal = propose(&before, &ask, &parts).unwrap();
    let meters: f64 = {
        let then = after(&proposal);
        let new = before.model.wires.len()..then.model.wires.len();
        let each = new.map(|at| then.routing.electrical_length(&then.model, Index::new(at)));
        each.map(|length| length.unwrap().value()).sum()
    };
    let told = |proposal: &Proposal| {
        let harness = proposal
            .choices
            .iter()
            .find(|one| one.question == "Harness");
        harness.unwrap().reason.clone()
    };
    let reason = told(&proposal);
    for amount in [2.0 * meters, 2.0 * meters * 0.25] {
        assert!(
            reason.contains(&format!(" {amount:+.2}")),
            "{amount}: {reason}"
        );
    }
    let unpriced = told(&propose(&before, &ask, &[]).unwrap());
    assert!(
        unpriced.contains("not evaluated, because no conductor of the parts list states"),
        "{unpriced}"
    );
}

#[test]
fn a_load_too_large_for_every_block_is_told_with_each_reason() {
    let before = study(TENDER);
    let ask = Ask {
        draws: Draws::Current(300.0),
        ..light("bow-light")
    };
    let faults = propose(&before, &ask, &[]).unwrap_err();
    let [fault] = &faults[..] else {
        panic!("{faults:?}")
    };
    assert_eq!(fault.field, "draws");
    assert!(fault.detail.contains("console-fuses"), "{}", fault.detail);
    assert_eq!(fault.given, "300 A");
}

#[test]
fn what_is_decided_is_taken_and_an_occupied_position_refused() {
    let before = study(TENDER);
    let mut ask = light("bow-light");
    ask.decided = Decided {
        feed: Some(("console-fuses".to_owned(), 8)),
        back: Some("console-negative".to_owned()),
        rating_a: Some(10.0),
        size: Some(WireSize::awg(10)),
        fitted: Some(Fitted::AddOn),
        color: Some("red".to_owned()),
    };
    let proposal = propose(&before, &ask, &[]).unwrap();
    let feed = &proposal.record.wires[before.model.wires.len()];
    assert_eq!(feed.from, "console-fuses.8");
    assert_eq!(
        (feed.size.as_deref(), feed.color.as_deref()),
        (Some("10 AWG"), Some("red"))
    );
    assert!(feed.fitted_when.is_some() && feed.harness.as_deref() == Some("deck-light-bow-add-on"));
    assert_eq!(proposal.record.devices.last().unwrap().rating_a, Some(10.0));
    ask.decided.feed = Some(("console-fuses".to_owned(), 5));
    let fault = propose(&before, &ask, &[]).unwrap_err().remove(0);
    assert!(fault.detail.contains("taken by fuse fuse-8"), "{fault:?}");
    assert!(fault.limit.contains("free: 6, 7, 8"), "{fault:?}");
}

#[test]
fn everything_wrong_is_told_at_its_field() {
    let before = study(TENDER);
    let mut ask = light("nowhere");
    ask.name = "Add".to_owned();
    ask.draws = Draws::Power(0.0);
    ask.take_rate = Some(3.0);
    ask.runs_in = vec!["asleep".to_owned()];
    ask.ordered = vec![Ordered::Requires("sauna".to_owned())];
    ask.decided.size = Some(WireSize::metric_hundredths(250));
    let faults = propose(&before, &ask, &[]).unwrap_err();
    let fields: Vec<_> = faults.iter().map(|fault| fault.field).collect();
    assert_eq!(
        fields,
        [
            "name",
            "draws",
            "take_rate",
            "point",
            "states",
            "ordered",
            "size"
        ]
    );
    let mut ask = light("bow-light");
    ask.ordered = vec![
        Ordered::Requires("washdown".to_owned()),
        Ordered::Excludes("washdown".to_owned()),
    ];
    let fault = propose(&before, &ask, &[]).unwrap_err().remove(0);
    assert_eq!(fault.field, "ordered");
    assert!(
        fault.detail.contains("no boat could be ordered"),
        "{fault:?}"
    );
}

/// Drawn asks: what comes out is always a whole model, and what it breaks is told.
fn drawn(text: &str, seed: u64, count: usize) -> (usize, usize) {
    let before = study(text);
    let failed = failing(&before);
    let model = &before.model;
    let mut rng = fastrand::Rng::with_seed(seed);
    let (mut proposed, mut refused) = (0, 0);
    for number in 0..count {
        let point = Index::new(rng.usize(0..model.points.len()));
        let amperes = [0.2, 1.0, 2.5, 5.0, 9.0, 14.0, 30.0][rng.usize(0..7)];
        let draws = match rng.u8(0..3) {
            0 => Draws::Current(amperes),
            1 => Draws::Power(amperes * 12.0),
            _ => Draws::Resistance(12.0 / amperes),
        };
        let other = || model.options.iter().map(|(_, option)| option.id.clone());
        let picked = other().nth(rng.usize(0..model.options.len())).unwrap();
        let ordered = match rng.u8(0..4) {
            0 => vec![Ordered::Requires(picked)],
            1 => vec![Ordered::Excludes(picked)],
            2 => vec![Ordered::OneOf(picked)],
            _ => Vec::new(),
        };
        let classes = [None, Some(crate::choices::DropClass::Critical)];
        let ask = Ask {
            name: format!("Drawn {number}"),
            draws,
            stated_at_v: rng.bool().then_some(12.0),
            drop_class: classes[rng.usize(0..2)],
            ordered,
            decided: Decided {
                fitted: [None, Some(Fitted::Main), Some(Fitted::AddOn)][rng.usize(0..3)],
                ..Decided::default()
            },
            ..light(model.points.id(point))
        };
        match propose(&before, &ask, &[]) {
            Err(faults) => {
                assert!(
                    faults.iter().all(|fault| fault.detail.len() > 20),
                    "{faults:?}"
                );
                refused += 1;
            }
            Ok(proposal) => {
                if number % 20 == 0 {
                    let again = propose(&before, &ask, &[]);
                    assert_eq!(again.as_ref(), Ok(&proposal), "same ask, same answer");
                }
                holds_together(&before, &proposal);
                let then = after(&proposal);
                let new = failing(&then).difference(&failed).count();
                let told = proposal.cautions.iter();
                let told = told
                    .filter(|text| text.starts_with("A limit would fail"))
                    .count();
                assert!(new == 0 || told > 0, "{ask:?}: {new} new, {told} told");
                proposed += 1;
            }
        }
    }
    (proposed, refused)
}

#[test]
fn drawn_asks_give_whole_models_that_tell_what_they_break() {
    let (proposed, refused) = drawn(TENDER, 5, 50);
    assert!(proposed >= 30, "{proposed} {refused}");
    let (proposed, refused) = drawn(LAUNCH, 6, 4);
    assert!(proposed >= 2, "{proposed} {refused}");
}

#[test]
fn a_power_without_any_volts_is_not_taken_for_amperes() {
    let mut file: serde_json::Value = serde_json::from_str(TENDER).unwrap();
    for source in file["sources"].as_array_mut().unwrap() {
        for field in ["nominal_v", "low_v", "running_v", "rested_v"] {
            source.as_object_mut().unwrap().remove(field);
        }
    }
    let without = study(&file.to_string());
    let ask = Ask {
        draws: Draws::Power(20.0),
        stated_at_v: None,
        ..light("bow-light")
    };
    let told = propose(&without, &ask, &[]).unwrap_err();
    assert!(
        told.iter()
            .any(|fault| fault.detail.contains("states volts")),
        "{told:?}"
    );
}
