//! Studies kept for the next page: routing, solving and judging a boat costs far more than
//! showing it.
//!
//! A study depends on the content of the model file and on the boat only, so it is kept under
//! both. Several readers who ask for the same boat at once wait for one computation. A study of
//! every boat takes over what one of nearly the same model has shown; the outcome is the same.

use std::collections::{BTreeMap, VecDeque};
use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};

use harness_core::file_format;
use harness_core::model::{BoatModel, OptionIndex, OptionRule};
use harness_core::report::Counts;
use harness_core::sheets::scope::option_names;
use harness_core::study::{BoatChoice, NoBoat, Study, options_of};
use tokio::sync::OnceCell;

use crate::error::{Error, Fault};
use crate::store::Revision;

/// Most studies kept; beyond it the one not used for the longest time goes.
const KEPT: usize = 32;
/// Most findings kept in all studies together: with its working one takes some 2 kB.
const FINDINGS_KEPT: usize = 500_000;
/// Studies kept however large they are: what was changed, and what came of it.
const KEPT_AT_LEAST: usize = 2;
/// Studies looked at for one of nearly the same model, those used last first.
const LOOKED_AT: usize = 8;
/// Models kept that were read to be saved and are not studied yet.
const EXPECTED: usize = 2;
/// Most summaries kept: they are small.
const SUMMARIES_KEPT: usize = 4096;

/// The boat an address asks for, in the words of the address.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum AskedBoat {
    /// None in particular.
    #[default]
    Every,
    /// The boat ordered under this hull number.
    Hull(String),
    /// The boat with these options, by code.
    Options(Vec<String>),
}

/// What the list of boat models shows of one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Summary {
    /// Number of buildable boats, exact; none when no boat can be ordered.
    pub buildable: Option<String>,
    /// Limits met, failing and not evaluated on the boat that stands for all.
    pub counts: Counts,
}

type Kept = Arc<OnceCell<Result<Arc<Study>, Vec<Fault>>>>;

#[derive(Default)]
struct Shelf {
    studies: BTreeMap<(String, AskedBoat), (u64, Kept)>,
    summaries: BTreeMap<String, Summary>,
    expected: VecDeque<(String, BoatModel)>,
    clock: u64,
}

/// The studies kept; all clones share them.
#[derive(Clone, Default)]
pub struct Studies(Arc<Mutex<Shelf>>);

impl Shelf {
    /// Takes out what was not used for the longest time, until another study has room.
    fn make_room(&mut self, most_findings: usize) -> Vec<Kept> {
        let mut out = Vec::new();
        while self.is_full(most_findings) {
            let oldest = self.studies.iter().min_by_key(|(_, (used, _))| *used);
            let oldest = oldest.map(|(key, _)| key.clone());
            let taken = oldest.and_then(|key| self.studies.remove(&key));
            out.extend(taken.map(|(_, kept)| kept));
        }
        out
    }

    /// Whether another study would be too many, or those that are there are too large.
    fn is_full(&self, most_findings: usize) -> bool {
        let count = self.studies.len();
        let each = self.studies.values().map(|(_, kept)| findings(kept));
        count >= KEPT || count > KEPT_AT_LEAST && each.sum::<usize>() > most_findings
    }
}

/// Findings of a study that is kept; none while it is being worked out.
fn findings(kept: &Kept) -> usize {
    let study = kept.get().and_then(|study| study.as_ref().ok());
    study.map_or(0, |study| study.findings.len())
}

impl fmt::Debug for Studies {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        write!(f, "Studies({} kept)", shelf.studies.len())
    }
}

impl Studies {
    /// The study of one boat of a revision, computed when it is not kept.
    ///
    /// # Errors
    /// [`Error::NoBoat`] when there is no such boat; [`Error::Panicked`] when the core broke.
    pub async fn of(&self, revision: &Revision, asked: AskedBoat) -> Result<Arc<Study>, Error> {
        let kept = self.kept((revision.head.stamp.clone(), asked.clone()));
        let computed = kept.get_or_try_init(|| {
            let (earlier, read) = match asked {
                AskedBoat::Every => (self.of_every_boat(), self.expected(&revision.head.stamp)),
                AskedBoat::Hull(_) | AskedBoat::Options(_) => (Vec::new(), None),
            };
            compute(revision.body.clone(), read, asked, earlier)
        });
        computed.await?.clone().map_err(Error::NoBoat)
    }

    /// Keeps the model of a file just saved for its study, which will be asked for soon.
    pub fn expect(&self, stamp: String, model: BoatModel) {
        let mut shelf = self.shelf();
        shelf.expected.push_back((stamp, model));
        if shelf.expected.len() > EXPECTED {
            shelf.expected.pop_front();
        }
    }

    /// Takes out the model that was kept for its study.
    pub(crate) fn expected(&self, stamp: &str) -> Option<BoatModel> {
        let mut shelf = self.shelf();
        let at = shelf
            .expected
            .iter()
            .position(|(known, _)| known == stamp)?;
        shelf.expected.remove(at).map(|(_, model)| model)
    }

    /// What the list of boat models shows of a revision.
    ///
    /// # Errors
    /// [`Error::Panicked`] when the core broke.
    pub async fn summary(&self, revision: &Revision) -> Result<Summary, Error> {
        let stamp = &revision.head.stamp;
        if let Some(known) = self.shelf().summaries.get(stamp) {
            return Ok(known.clone());
        }
        let summary = match self.of(revision, AskedBoat::Every).await {
            Ok(study) => Summary {
                buildable: Some(study.boats.count().to_string()),
                counts: Counts::of(study.findings.iter()),
            },
            Err(Error::NoBoat(_)) => Summary {
                buildable: None,
                counts: Counts::default(),
            },
            Err(other) => return Err(other),
        };
        let mut shelf = self.shelf();
        if shelf.summaries.len() >= SUMMARIES_KEPT {
            shelf.summaries.clear();
        }
        shelf.summaries.insert(stamp.clone(), summary.clone());
        Ok(summary)
    }

    /// The finished studies of every boat used last.
    fn of_every_boat(&self) -> Vec<Arc<Study>> {
        let shelf = self.shelf();
        let finished = shelf
            .studies
            .iter()
            .filter_map(|((_, asked), (used, kept))| {
                let study = kept.get()?.as_ref().ok()?;
                (*asked == AskedBoat::Every).then(|| (*used, study.clone()))
            });
        let mut finished: Vec<(u64, Arc<Study>)> = finished.collect();
        finished.sort_by_key(|(used, _)| std::cmp::Reverse(*used));
        let last = finished.into_iter().take(LOOKED_AT);
        last.map(|(_, study)| study).collect()
    }

    fn shelf(&self) -> std::sync::MutexGuard<'_, Shelf> {
        // A shelf is whole after every statement, so a panic elsewhere does not spoil it.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn kept(&self, key: (String, AskedBoat)) -> Kept {
        let mut shelf = self.shelf();
        shelf.clock += 1;
        let now = shelf.clock;
        if !shelf.studies.contains_key(&key) {
            let out = shelf.make_room(FINDINGS_KEPT);
            if !out.is_empty() {
                // Letting go of a large one takes a while.
                tokio::task::spawn_blocking(move || drop(out));
            }
        }
        let entry = shelf
            .studies
            .entry(key)
            .or_insert_with(|| (now, Kept::default()));
        entry.0 = now;
        entry.1.clone()
    }
}

/// Faults are kept too: an address asked twice is refused twice without computing.
async fn compute(
    body: String,
    read: Option<BoatModel>,
    asked: AskedBoat,
    earlier: Vec<Arc<Study>>,
) -> Result<Result<Arc<Study>, Vec<Fault>>, Error> {
    tokio::task::spawn_blocking(move || {
        let model = match read {
            Some(model) => model,
            None => stored_model(&body)?,
        };
        study(model, &asked, &earlier)
    })
    .await
    .map_err(|broken| Error::Panicked(broken.to_string()))?
}

/// The model of a stored body.
///
/// # Errors
/// [`Error::Answer`] when it is not readable: only whole models are stored.
pub fn stored_model(body: &str) -> Result<BoatModel, Error> {
    file_format::read(body).map_err(|faults| {
        let words: Vec<_> = faults.iter().map(ToString::to_string).collect();
        Error::Answer(format!("a stored model is not readable: {}", words.join("; ")).into())
    })
}

fn study(
    model: BoatModel,
    asked: &AskedBoat,
    earlier: &[Arc<Study>],
) -> Result<Result<Arc<Study>, Vec<Fault>>, Error> {
    let choice = match choice(&model, asked) {
        Ok(choice) => choice,
        Err(faults) => return Ok(Err(faults)),
    };
    let names = option_names(&model);
    let rules = options_of(&model);
    let study = match choice {
        BoatChoice::Every => Study::after(model, earlier.iter().map(Arc::as_ref)),
        choice => Study::of(model, choice),
    };
    Ok(study
        .map(Arc::new)
        .map_err(|why| no_boat(&why, &names, rules.rules())))
}

/// What is asked for, found in the model; whether such a boat can be built is not looked at.
///
/// # Errors
/// Every hull and option the model does not have.
pub fn choice(model: &BoatModel, asked: &AskedBoat) -> Result<BoatChoice, Vec<Fault>> {
    let known = |ids: Vec<&str>| match ids.is_empty() {
        true => "none is stated".to_owned(),
        false => ids.join(", "),
    };
    match asked {
        AskedBoat::Every => Ok(BoatChoice::Every),
        AskedBoat::Hull(hull) => model.hulls.find(hull).map(BoatChoice::Hull).ok_or_else(|| {
            let ids = model.hulls.iter().map(|(_, hull)| hull.id.as_str());
            let detail = "this boat model has no such hull";
            vec![
                Fault::new("hull", detail)
                    .given(hull.as_str())
                    .limit(known(ids.collect())),
            ]
        }),
        AskedBoat::Options(codes) => {
            let mut faults = Vec::new();
            let mut options = Vec::new();
            for code in codes {
                match model.options.find(code) {
                    Some(at) => options.push(OptionIndex(at.number())),
                    None => {
                        let ids = model.options.iter().map(|(_, option)| option.id.as_str());
                        let detail = "this boat model has no such option";
                        faults.push(
                            Fault::new("options", detail)
                                .given(code.as_str())
                                .limit(known(ids.collect())),
                        );
                    }
                }
            }
            match faults.is_empty() {
                true => Ok(BoatChoice::Options(options)),
                false => Err(faults),
            }
        }
    }
}

fn no_boat(why: &NoBoat, names: &[String], rules: &[OptionRule]) -> Vec<Fault> {
    let broken = |rule: &OptionRule, detail: &str| {
        Fault::new("options", format!("{detail}: {}", rule.says(names)))
    };
    match why {
        NoBoat::NotBuildable(broken_rules) => broken_rules
            .iter()
            .map(|rule| broken(rule, "this boat cannot be ordered, it breaks the rule"))
            .collect(),
        NoBoat::NoneBuildable(positions) => {
            let named: Vec<_> = positions
                .iter()
                .filter_map(|at| rules.get(*at))
                .map(|rule| broken(rule, "no boat can be ordered while this rule stands"))
                .collect();
            match named.is_empty() {
                true => vec![Fault::new("options", why.to_string())],
                false => named,
            }
        }
        NoBoat::TooWide(_) => vec![Fault::new("options", why.to_string())],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::RevisionHead;

    fn revision(stamp: &str, body: &str) -> Revision {
        Revision {
            head: RevisionHead {
                restores: None,
                model_id: "a".to_owned(),
                number: 1,
                name: "A".to_owned(),
                recorded_at: "2026-01-02T03:04:05Z".to_owned(),
                who: "b".to_owned(),
                reason: "c".to_owned(),
                stamp: stamp.to_owned(),
            },
            body: body.to_owned(),
        }
    }

    const TWO_OPTIONS: &str = r#"{"format_version": 1, "name": "A",
        "options": [{"id": "x"}, {"id": "y"}],
        "option_rules": [{"excludes": ["x", "y"]}],
        "hulls": [{"id": "7", "options": ["x"]}]}"#;

    fn details(fault: Error) -> String {
        match fault {
            Error::NoBoat(faults) => faults
                .iter()
                .map(Fault::to_string)
                .collect::<Vec<_>>()
                .join("; "),
            other => panic!("{other}"),
        }
    }

    #[tokio::test]
    async fn a_study_is_computed_once_and_the_shelf_stays_bounded() {
        let studies = Studies::default();
        let one = revision("s", TWO_OPTIONS);
        let (a, b) = tokio::join!(
            studies.of(&one, AskedBoat::Every),
            studies.of(&one, AskedBoat::Every)
        );
        let a = a.unwrap();
        assert!(Arc::ptr_eq(&a, &b.unwrap()));
        let hull = AskedBoat::Hull("7".to_owned());
        assert_eq!(studies.of(&one, hull).await.unwrap().boat_options(), ["x"]);
        for number in 0..2 * KEPT {
            let other = revision(&number.to_string(), TWO_OPTIONS);
            studies.of(&other, AskedBoat::Every).await.unwrap();
        }
        assert_eq!(studies.shelf().studies.len(), KEPT);
        let again = studies.of(&one, AskedBoat::Every).await.unwrap();
        assert!(!Arc::ptr_eq(&a, &again), "the oldest had to go");
        assert_eq!(
            studies.summary(&one).await.unwrap().buildable.as_deref(),
            Some("3")
        );
    }

    #[tokio::test]
    async fn a_model_that_was_just_read_is_studied_without_reading_it_again() {
        let studies = Studies::default();
        let model = |name: &str| stored_model(&TWO_OPTIONS.replace("\"A\"", name)).unwrap();
        for (stamp, name) in [("s", "\"S\""), ("t", "\"T\""), ("u", "\"U\"")] {
            studies.expect(stamp.to_owned(), model(name));
        }
        let mut names = Vec::new();
        // That of the first had to go; a hull does not take what every boat needs.
        let hull = AskedBoat::Hull("7".to_owned());
        for (stamp, asked) in [
            ("s", AskedBoat::Every),
            ("t", hull),
            ("t", AskedBoat::Every),
        ] {
            let study = studies.of(&revision(stamp, TWO_OPTIONS), asked).await;
            names.push(study.unwrap().model.name.clone());
        }
        assert_eq!(names, ["A", "A", "T"]);
    }

    #[tokio::test]
    async fn large_studies_make_room_until_two_are_left() {
        let studies = Studies::default();
        let mut each = 0;
        for name in ["a", "b", "c", "d"] {
            let body = format!(
                r#"{{"format_version": 1, "name": "{name}", "loads": [{{"id": "lamp"}}]}}"#
            );
            let study = studies.of(&revision(name, &body), AskedBoat::Every).await;
            each = study.unwrap().findings.len();
        }
        assert!(each > 0);
        let left = |most_findings: usize| {
            let out = studies.shelf().make_room(most_findings);
            let shelf = studies.shelf();
            let stamps = shelf.studies.keys().map(|(stamp, _)| stamp.clone());
            (out.len(), stamps.collect::<String>())
        };
        assert_eq!(left(4 * each), (0, "abcd".to_owned()));
        assert_eq!(left(4 * each - 1), (1, "bcd".to_owned()));
        assert_eq!(left(0), (1, "cd".to_owned()));
        assert_eq!(left(0), (0, "cd".to_owned()));
    }

    #[tokio::test]
    async fn a_study_after_a_change_takes_over_what_it_does_not_touch_and_is_as_from_scratch() {
        let taken_over = |study: &Study| study.every.as_ref().unwrap().taken_over;
        let mut taken = 0;
        for &(name, text) in crate::samples::SAMPLES {
            let studies = Studies::default();
            let first = revision("before", text);
            let before = studies.of(&first, AskedBoat::Every).await.unwrap();
            assert_eq!(taken_over(&before), 0);
            for (list, field, value) in [
                ("loads", "current_a", serde_json::json!(4.75)),
                ("wires", "size", serde_json::json!("8 AWG")),
                ("devices", "rating_a", serde_json::json!(7.5)),
            ] {
                let mut next: serde_json::Value = serde_json::from_str(text).unwrap();
                let things = next[list].as_array_mut().unwrap();
                let mut stated = things.iter_mut().filter(|one| !one[field].is_null());
                stated.next().unwrap()[field] = value;
                let next = revision(field, &next.to_string());
                let after = studies.of(&next, AskedBoat::Every).await.unwrap();
                let anew = Studies::default();
                let anew = anew.of(&next, AskedBoat::Every).await.unwrap();
                let pairs = anew.findings.iter().zip(&after.findings);
                let differing: Vec<_> = pairs.filter(|(one, other)| one != other).collect();
                assert!(
                    differing.is_empty(),
                    "{name} {list} {:?}",
                    differing.first()
                );
                assert_eq!(anew.findings.len(), after.findings.len());
                assert!(before.findings != after.findings, "{name} {list}");
                assert_eq!(taken_over(&anew), 0);
                taken += taken_over(&after);
            }
        }
        assert!(taken > 0);
    }

    #[tokio::test]
    async fn a_boat_that_is_not_there_is_named_with_what_is() {
        let studies = Studies::default();
        let one = revision("s", TWO_OPTIONS);
        let asked = |codes: &[&str]| {
            AskedBoat::Options(codes.iter().map(|code| (*code).to_owned()).collect())
        };
        let hull = studies.of(&one, AskedBoat::Hull("8".to_owned())).await;
        assert!(details(hull.unwrap_err()).contains("given: 8; wanted: 7"));
        let unknown = details(studies.of(&one, asked(&["z"])).await.unwrap_err());
        assert!(unknown.contains("given: z; wanted: x, y"), "{unknown}");
        let broken = details(studies.of(&one, asked(&["x", "y"])).await.unwrap_err());
        assert!(broken.contains("x excludes y"), "{broken}");
        let none = TWO_OPTIONS.replace(
            "{\"excludes\"",
            "{\"always\": \"x\"}, {\"always\": \"y\"}, {\"excludes\"",
        );
        let none = revision("t", &none);
        assert_eq!(studies.summary(&none).await.unwrap().buildable, None);
    }
}
