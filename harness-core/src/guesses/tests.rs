//! What a limit rests on, held against what happens when the figure is another.

use super::*;
use crate::rules::test_model::study;

fn load_figure(study: &Study, id: &str) -> Figure {
    Figure::Load(study.model.loads.find(id).unwrap())
}

fn position(study: &Study, rule: &str, place: &str) -> usize {
    let found = study.findings.iter().position(|finding| {
        finding.rule == rule && finding.place.label(&study.model).ends_with(place)
    });
    found.unwrap_or_else(|| panic!("no {rule} at {place}"))
}

/// Another load behind the same fuse, and one of its own from the battery.
const LOADS: &[(&str, &str)] = &[
    (
        "loads/+",
        r#"{"id": "lamp", "point": "at-pump", "circuit": "C1", "current_a": 2.0,
            "min_v": 9.0, "drop_class": "other", "figure_from": "guess"}"#,
    ),
    (
        "loads/+",
        r#"{"id": "radio", "point": "at-pump", "current_a": 3.0, "min_v": 9.0,
            "drop_class": "other", "figure_from": "measured"}"#,
    ),
    (
        "wires/+",
        r#"{"id": "l1", "from": "fuse.out", "to": "lamp.plus", "size": "14 AWG", "role": "feed"}"#,
    ),
    (
        "wires/+",
        r#"{"id": "l2", "from": "lamp.minus", "to": "battery.minus", "size": "14 AWG", "role": "return"}"#,
    ),
    (
        "wires/+",
        r#"{"id": "r1", "from": "battery.plus", "to": "radio.plus", "size": "14 AWG", "role": "feed"}"#,
    ),
    (
        "wires/+",
        r#"{"id": "r2", "from": "radio.minus", "to": "battery.minus", "size": "14 AWG", "role": "return"}"#,
    ),
    ("devices/fuse/resistance_mohm", "4.0"),
];

fn with<'a>(more: &[(&'a str, &'a str)]) -> Study {
    let all: Vec<_> = LOADS.iter().copied().chain(more.iter().copied()).collect();
    study(&all)
}

#[test]
fn the_share_of_a_figure_is_by_how_much_the_value_follows_it() {
    let base = with(&[]);
    let guesses = Guesses::of(&base);
    // Ohm's law: with constant currents each loss is in proportion to its current and resistance.
    let changes = [
        (load_figure(&base, "pump"), ("loads/pump/current_a", "5.05")),
        (load_figure(&base, "lamp"), ("loads/lamp/current_a", "2.02")),
        (
            load_figure(&base, "radio"),
            ("loads/radio/current_a", "3.03"),
        ),
        (
            Figure::Device(base.model.devices.find("fuse").unwrap()),
            ("devices/fuse/resistance_mohm", "4.04"),
        ),
    ];
    let mut compared = 0;
    for (figure, change) in changes {
        let changed = with(&[change]);
        for (number, finding) in base.findings.iter().enumerate() {
            let same = changed
                .findings
                .iter()
                .find(|one| one.limit_key() == finding.limit_key());
            let (Some(before), Some(after)) = (finding.value, same.and_then(|one| one.value))
            else {
                continue;
            };
            if !matches!(
                finding.rule,
                "drop_over_limit" | "conductor_overloaded" | "device_below_load"
            ) {
                continue;
            }
            let follows = (after.value / before.value - 1.0) / 0.01;
            let rests = guesses.rests(number).iter();
            let share = rests
                .filter(|rest| rest.figure == figure)
                .map(|rest| rest.share);
            let share: f64 = share.sum();
            // A share below the least one is not told.
            let least = follows.abs() < LEAST_SHARE && share == 0.0;
            assert!(
                least || (follows - share).abs() < 1e-6,
                "{} {}: {figure:?} follows {follows}, share {share}",
                finding.rule,
                finding.place.label(&base.model)
            );
            compared += usize::from(share > 0.0);
        }
    }
    assert!(compared >= 8, "{compared}");
}

#[test]
fn a_guess_is_told_apart_from_a_figure_of_unknown_source_and_from_a_measured_one() {
    let base = with(&[]);
    let guesses = Guesses::of(&base);
    let drop = position(&base, "drop_over_limit", "pump");
    let doubtful = guesses.doubtful(drop, &base.model);
    let told: Vec<_> = doubtful
        .iter()
        .map(|(rest, trust)| (rest.figure.words(&base.model), *trust))
        .collect();
    assert_eq!(told[0], ("draw of lamp".to_owned(), Trust::Guess));
    assert_eq!(told[1], ("draw of pump".to_owned(), Trust::NotStated));
    assert!(told.iter().all(|(words, _)| words != "draw of radio"));
    let own = position(&base, "drop_over_limit", "radio");
    assert_eq!(guesses.rests(own).len(), 1);
    assert!(guesses.doubtful(own, &base.model).is_empty());
}

#[test]
fn what_decides_about_a_failing_limit_comes_first() {
    // 100 m of thin wire: the drop of the lamp fails.
    let far = [
        ("runs/side/length_m", "100.0"),
        ("loads/radio/figure_from", "\"guess\""),
        ("wires/r1/size", "\"2/0 AWG\""),
        ("wires/r2/size", "\"2/0 AWG\""),
    ];
    let base = with(&far);
    let guesses = Guesses::of(&base);
    let [first, second, ..] = &guesses.figures[..] else {
        panic!("{:?}", guesses.figures)
    };
    assert_eq!(first.figure, load_figure(&base, "lamp"));
    assert!(first.failing > 0 && first.limits >= first.failing);
    assert_eq!(second.figure, load_figure(&base, "radio"));
    assert_eq!((second.trust, second.failing), (Trust::Guess, 0));
}

#[test]
fn over_every_boat_nothing_is_named_that_is_not_on_the_worst_one() {
    use crate::file_format;
    use crate::study::BoatChoice;
    let text = include_str!("../../../server/samples/tender-56.json");
    let study = Study::of(file_format::read(text).unwrap(), BoatChoice::Every).unwrap();
    let guesses = Guesses::of(&study);
    let mut loads = 0;
    for number in 0..study.findings.len() {
        let boat = study.boat_of(number);
        for rest in guesses.rests(number) {
            if let Figure::Load(at) = rest.figure {
                assert!(study.model.loads[at].fitted_when.holds(boat));
                loads += 1;
            }
        }
    }
    assert!(loads > 0 && !guesses.figures.is_empty());
}
