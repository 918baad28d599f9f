//! On which boats a limit fails, in words.

use harness_core::boats::{Boat, OptionIndex};
use harness_core::model::Index;
use harness_core::report::option_ids;
use harness_core::rules::Finding;
use harness_core::study::Study;

use super::clears;
use super::findings::Linked;
use crate::shown::grouped;
use crate::studies::AskedBoat;
use crate::view::View;

/// How far one failure reaches.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Reach {
    /// *on 5 856 of 1 008 000 boats (0.58 %)*.
    pub share: String,
    /// The share in hundredths, for a bar; `None` where it is not known exactly.
    pub bar: Option<f64>,
    /// *all have the roof radar; none has the small engine*; may be empty.
    pub shared: String,
    /// Options which alone make it fail, whatever else is ordered.
    pub causes: Vec<String>,
    /// The standard boat with these changes fails; may be empty.
    pub nearest: Option<Linked>,
    /// Options of the worst boat, and the way to look at it.
    pub worst: Linked,
    /// The page of changes that clear it.
    pub clears_href: String,
}

impl Reach {
    /// Of a failing limit; `None` where one boat is in view or nothing was counted.
    pub fn of(view: &View, finding: &Finding) -> Option<Self> {
        let study = &*view.study;
        study.every.as_ref()?;
        if !finding.fails() {
            return None;
        }
        let number = study
            .findings
            .iter()
            .position(|known| std::ptr::eq(known, finding))?;
        let worst = study.boat_of(number);
        let look = |boat: &Boat, text: String| Linked {
            text,
            href: view
                .addresses
                .of_boat(AskedBoat::Options(option_ids(&study.model, boat)))
                .to(&["failing"]),
        };
        let mut reach = Self {
            worst: look(
                worst,
                options_words(study, &worst.options().collect::<Vec<_>>()),
            ),
            clears_href: clears::address(&view.addresses, &study.model, finding),
            ..Self::default()
        };
        let Some(extent) = study.extent(number) else {
            "not counted: too many limits fail".clone_into(&mut reach.share);
            return Some(reach);
        };
        let all = study.boats.count();
        let (least, most) = (&extent.boats.at_least, &extent.boats.at_most);
        if extent.boats.is_exact() && *least == all {
            "on every boat".clone_into(&mut reach.share);
            reach.bar = Some(100.0);
            return Some(reach);
        }
        let total = grouped(&all);
        if extent.boats.is_exact() {
            let percent = percent(&least.to_string(), &all.to_string());
            reach.bar = Some(percent);
            reach.share = format!(
                "on {} of {total} boats ({})",
                grouped(least),
                percent_words(percent)
            );
        } else {
            reach.share = format!(
                "on at least {} and at most {} of {total} boats (not counted exactly)",
                grouped(least),
                grouped(most)
            );
        }
        let mut shared = Vec::new();
        if !extent.all_have.is_empty() {
            shared.push(format!(
                "all have {}",
                options_words(study, &extent.all_have)
            ));
        }
        if !extent.none_has.is_empty() {
            shared.push(format!(
                "none has {}",
                options_words(study, &extent.none_has)
            ));
        }
        reach.shared = shared.join("; ");
        let causes = extent.causes.iter().filter(|cause| !cause.is_empty());
        reach.causes = causes.map(|cause| options_words(study, cause)).collect();
        let nearest = extent.nearest.as_ref();
        reach.nearest = nearest.map(|boat| look(boat, beside_standard(study, boat)));
        Some(reach)
    }
}

/// Options in words: *Radar, Roof camera and Horn*.
pub fn options_words(study: &Study, options: &[OptionIndex]) -> String {
    let names: Vec<&str> = options
        .iter()
        .map(|option| {
            let stated = &study.model.options[Index::new(option.0)];
            stated.name.as_deref().unwrap_or(&stated.id)
        })
        .collect();
    match names.as_slice() {
        [] => "no options".to_owned(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// A boat as what it differs in from the standard one.
pub(super) fn beside_standard(study: &Study, boat: &Boat) -> String {
    let standard = study.every.as_ref().map(|every| &every.standard);
    let changed = |fitted: bool| -> Vec<OptionIndex> {
        let options = (0..study.model.options.len()).map(OptionIndex);
        options
            .filter(|option| boat.has(*option) == fitted)
            .filter(|option| standard.is_some_and(|known| known.has(*option) != fitted))
            .collect()
    };
    changes_words(study, &changed(true), &changed(false))
}

fn changes_words(study: &Study, with: &[OptionIndex], without: &[OptionIndex]) -> String {
    let mut words = "the standard boat".to_owned();
    if with.is_empty() && without.is_empty() {
        words.push_str(" itself");
    }
    if !with.is_empty() {
        words.push_str(&format!(" with {}", options_words(study, with)));
    }
    if !without.is_empty() {
        let comma = if with.is_empty() { "" } else { "," };
        words.push_str(&format!(
            "{comma} without {}",
            options_words(study, without)
        ));
    }
    words
}

/// Hundredths of one whole number in another, both of any length.
fn percent(part: &str, whole: &str) -> f64 {
    let number = |digits: &str| digits.parse::<f64>().unwrap_or(f64::NAN);
    100.0 * number(part) / number(whole)
}

fn percent_words(percent: f64) -> String {
    match percent {
        percent if percent < 0.01 => "under 0.01 %".to_owned(),
        percent if percent > 99.99 => "over 99.99 %".to_owned(),
        percent => format!("{} %", harness_core::working::significant(percent, 3)),
    }
}
