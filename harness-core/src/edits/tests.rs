//! Changes, differences, merges and new names on the demo models, drawn at random.

use super::*;
use crate::file_format::{self, ModelRecord};
use serde_json::{Value, json};
use std::collections::BTreeSet;

const LAUNCH: &str = include_str!("../../../server/samples/launch-92.json");
const TENDER: &str = include_str!("../../../server/samples/tender-56.json");

fn record(text: &str) -> ModelRecord {
    file_format::read_record(text).unwrap()
}

fn whole(text: &str) -> Whole {
    Whole::of(&record(text))
}

#[test]
fn lists_and_record_are_the_same_model() {
    for text in [LAUNCH, TENDER] {
        let record = record(text);
        let again = Whole::of(&record).record().unwrap();
        assert_eq!(
            file_format::write_record(&again),
            file_format::write_record(&record)
        );
        let one = Whole::of(&record);
        assert_eq!(
            one.keys().len(),
            one.keys().into_iter().collect::<BTreeSet<_>>().len()
        );
        assert!(difference(&one, &Whole::of(&again)).is_empty());
    }
}

/// Changes a name, adds or removes a thing; which keys it touched.
fn edit(whole: &mut Whole, rng: &mut fastrand::Rng, free: &mut Vec<Key>) -> Key {
    let key = free.swap_remove(rng.usize(..free.len()));
    match (key.list, rng.u8(..4)) {
        (SETTINGS, _) => whole.put(&key, json!(format!("other {}", rng.u16(..)))),
        (_, 0) => drop(whole.remove(&key).unwrap()),
        (_, 1) => {
            let list = find_list(key.list).unwrap();
            let id = format!("new-{}-{}", list.name, rng.u64(..));
            let new = Key {
                list: list.name,
                id: id.clone(),
            };
            whole.put(&new, json!({"id": id, "name": "new"}));
            return new;
        }
        _ => {
            let mut thing = whole.get(&key).unwrap().clone();
            thing["name"] = json!(format!("other {}", rng.u16(..)));
            whole.put(&key, thing);
        }
    }
    key
}

#[test]
fn what_two_people_changed_apart_comes_together_and_nothing_else() {
    let mut rng = fastrand::Rng::with_seed(4);
    let base = whole(TENDER);
    let mut some = 0;
    for _ in 0..400 {
        let mut free: Vec<Key> = base.keys();
        // Without a short name a rule that is changed is another rule.
        free.retain(|key| {
            key.list != "option_rules" && !["format_version", "settings"].contains(&key.id.as_str())
        });
        let (mut mine, mut theirs) = (base.clone(), base.clone());
        let own: BTreeSet<Key> = (0..rng.usize(..6))
            .map(|_| edit(&mut mine, &mut rng, &mut free))
            .collect();
        let other: BTreeSet<Key> = (0..rng.usize(..6))
            .map(|_| edit(&mut theirs, &mut rng, &mut free))
            .collect();
        let merged = merge(&base, &mine, &theirs).unwrap();
        let touched: BTreeSet<Key> = difference(&base, &merged)
            .into_iter()
            .map(|change| change.key)
            .collect();
        assert_eq!(touched, own.union(&other).cloned().collect());
        for key in &own {
            assert_eq!(merged.get(key), mine.get(key));
        }
        for key in &other {
            assert_eq!(merged.get(key), theirs.get(key));
        }
        assert_eq!(merge(&base, &base, &theirs).unwrap(), theirs);
        assert!(difference(&merge(&base, &mine, &base).unwrap(), &mine).is_empty());
        // Taken back: the difference turned round, on top of what came after.
        let back = merge(&mine, &base, &merged).unwrap();
        assert!(
            difference(&back, &theirs)
                .iter()
                .all(|change| change.what == What::Reordered)
        );
        some += usize::from(!own.is_empty() && !other.is_empty());
    }
    assert!(some > 200, "{some}");
}

#[test]
fn the_same_thing_changed_by_both_is_told_with_both() {
    let base = whole(TENDER);
    let key = base
        .keys()
        .into_iter()
        .find(|key| key.list == "wires")
        .unwrap();
    let with = |size: &str| {
        let mut whole = base.clone();
        let mut thing = whole.get(&key).unwrap().clone();
        thing["size"] = json!(size);
        whole.put(&key, thing);
        whole
    };
    let (mine, theirs) = (with("3/0 AWG"), with("2/0 AWG"));
    let clashes = merge(&base, &mine, &theirs).unwrap_err();
    assert_eq!(clashes.len(), 1);
    assert_eq!(clashes[0].key, key);
    assert_eq!(clashes[0].mine.as_ref(), mine.get(&key));
    assert_eq!(clashes[0].theirs.as_ref(), theirs.get(&key));
    // The same change by both is one change; removed by one and changed by the other is none.
    assert_eq!(merge(&base, &mine, &mine).unwrap(), mine);
    let mut without = base.clone();
    without.remove(&key).unwrap();
    assert_eq!(merge(&base, &without, &theirs).unwrap_err()[0].mine, None);
    assert_eq!(without.remove(&key), Err(NoSuchThing(key)));
}

#[test]
fn a_difference_is_told_in_words() {
    let before = whole(TENDER);
    let mut after = before.clone();
    let key = |list, id: &str| Key {
        list,
        id: id.to_owned(),
    };
    let first = |list: &str| before.things(list)[0].clone();
    let (wire, mut thing) = first("wires");
    let was = thing["size"].as_str().unwrap().to_owned();
    thing["size"] = json!("3/0 AWG");
    after.put(&key("wires", &wire), thing);
    let (load, _) = first("loads");
    after.remove(&key("loads", &load)).unwrap();
    after.put(
        &key("zones", "z-new"),
        json!({"id": "z-new", "name": "New zone"}),
    );
    let changes = difference(&before, &after);
    let words: Vec<String> = changes
        .iter()
        .map(|change| format!("{}: {}", change.thing(), change.words()))
        .collect();
    assert_eq!(words.len(), 3, "{words:?}");
    assert_eq!(words[0], "zone z-new: added: id z-new, name New zone");
    assert!(
        words[1].starts_with(&format!("load {load}: removed: ")),
        "{words:?}"
    );
    assert_eq!(words[2], format!("wire {wire}: size: {was}, now 3/0 AWG"));
}

#[test]
fn a_new_name_is_spoken_everywhere_and_back_again() {
    for text in [LAUNCH, TENDER] {
        let before = whole(text);
        for list in lists().filter(|list| !list.kinds.is_empty()) {
            for (id, _) in before.things(list.name) {
                let to = "renamed-thing";
                let now = renamed(&before, list.kinds, id, to);
                let left = mentions(&now, list.kinds, id);
                assert!(left.is_empty(), "{} {id}: {left:?}", list.name);
                assert_eq!(
                    mentions(&before, list.kinds, id).len(),
                    mentions(&now, list.kinds, to).len()
                );
                let back = renamed(&now, list.kinds, to, id);
                assert_eq!(back, before, "{} {id}", list.name);
            }
            if let Some((id, _)) = before.things(list.name).first() {
                let now = renamed(&before, list.kinds, id, "renamed-thing");
                let text = file_format::write_record(&now.record().unwrap());
                file_format::read(&text).unwrap_or_else(|faults| panic!("{faults:?}"));
            }
        }
    }
}

#[test]
fn a_pointer_leads_to_the_thing_and_the_place_in_it() {
    let model = whole(TENDER);
    let (id, _) = &model.things("wires")[2];
    let (key, inside) = model.at_pointer("/wires/2/from_end/terminal").unwrap();
    assert_eq!(
        (key.list, key.id.as_str(), inside),
        ("wires", id.as_str(), "/from_end/terminal")
    );
    let (key, inside) = model.at_pointer("/wires/2").unwrap();
    assert_eq!((key.id.as_str(), inside), (id.as_str(), ""));
    let (key, inside) = model.at_pointer("/settings/slack_share").unwrap();
    assert_eq!(
        (key.list, key.id.as_str(), inside),
        (SETTINGS, "settings", "/slack_share")
    );
    assert!(model.at_pointer("/wires/9999").is_none() && model.at_pointer("").is_none());
    let broken: Value = json!("x");
    assert!(
        Whole::key_of(&find_list("wires").unwrap(), &broken)
            .id
            .is_empty()
    );
}
