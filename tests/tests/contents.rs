//! Harness contents beside a general constraint solver, on committed questions.

#![allow(clippy::unwrap_used, reason = "a test may stop where it stands")]

use std::collections::BTreeMap;
use std::fs;

use harness_core::contents::{Effort, Level};
use tests::contents::{Instance, Results, folder, instances};

#[test]
fn the_committed_questions_are_those_of_the_generator() {
    let text = fs::read_to_string(folder().join("instances.json")).unwrap();
    let committed: Vec<Instance> = serde_json::from_str(&text).unwrap();
    // `WRITE_INSTANCES=1 cargo bench -p tests --bench contents` writes them again.
    assert!(committed == instances(), "other questions than were solved");
}

#[test]
fn every_optimum_is_proven_and_that_of_the_general_solver() {
    let text = fs::read_to_string(folder().join("cp_sat.json")).unwrap();
    let results: Results = serde_json::from_str(&text).unwrap();
    let mut ours: BTreeMap<String, Vec<Level>> = BTreeMap::new();
    for instance in instances() {
        let demand = instance.question.demand().unwrap();
        let found = demand.levels(5, Effort::default()).unwrap();
        assert_eq!(found.levels.len(), 5, "{}", instance.name);
        for level in &found.levels {
            assert!(
                level.is_proven(),
                "{}, {} contents",
                instance.name,
                level.most
            );
        }
        ours.insert(instance.name, found.levels);
    }
    let (mut equal, mut within) = (0, 0);
    for row in &results.rows {
        let level = &ours[&row.instance][row.contents - 1];
        let found = level.wiring.value();
        assert!(found >= row.bound, "{row:?}: {found}");
        if row.status == "OPTIMAL" {
            assert_eq!(Some(found), row.objective, "{row:?}");
            equal += 1;
        } else {
            assert!(
                row.objective.is_none_or(|objective| found <= objective),
                "{row:?}: {found}"
            );
            within += 1;
        }
    }
    assert_eq!(equal + within, ours.len() * 4, "rows of results");
    assert!(equal >= 5, "only {equal} rows are proven by both");
}
