//! Diameter of a bundle of round wires, and how full it leaves a conduit.

use serde::Serialize;

use crate::tables::RuleSet;
use crate::tables::limits::{self, Limit};
use crate::tables::packing::{conduit_fill_limit, ratio};
use crate::units::Millimetres;
use crate::working::{NotEvaluated, Source, Status, Worked, Working, significant};

/// Diameter of the smallest circle that wires of these diameters need.
///
/// One wire, two wires, and up to 30 equal wires by closest packing; three wires of any size by
/// the circle round three touching circles; else `1.2 √Σd²`, never less than the two thickest
/// side by side.
///
/// # Errors
/// When no diameter is given.
pub fn bundle_diameter(diameters: &[Millimetres]) -> Result<Worked<Millimetres>, NotEvaluated> {
    let mut sorted: Vec<f64> = diameters.iter().map(|d| d.value()).collect();
    sorted.sort_by(|a, b| b.total_cmp(a));
    let (Some(&thickest), Some(&thinnest)) = (sorted.first(), sorted.last()) else {
        return Err(NotEvaluated::because(
            "no wire diameter is given: state at least one",
        ));
    };
    let mut working = Working::new();
    let count = sorted.len();
    let equal = thickest == thinnest;
    let diameter = if let Some(packed) = ratio(count).filter(|_| equal) {
        let diameter = packed.value * thickest;
        working.step(
            format!("{count} equal wires in closest packing"),
            "D = ratio · d",
            format!("{} × {} mm", packed.value, significant(thickest, 5)),
            format!("{} mm", significant(diameter, 5)),
            Some(&packed.source),
        );
        diameter
    } else if count == 2 {
        let diameter = thickest + thinnest;
        working.step(
            "two wires side by side",
            "D = d1 + d2",
            format!(
                "{} + {}",
                significant(thickest, 5),
                significant(thinnest, 5)
            ),
            format!("{} mm", significant(diameter, 5)),
            Some(&geometry("two touching circles")),
        );
        diameter
    } else if let [a, b, c] = sorted[..] {
        let diameter = round_three(a, b, c);
        working.step(
            "three touching wires",
            "Descartes: k = k1 + k2 + k3 − 2 √(k1 k2 + k2 k3 + k3 k1), D = −2 / k; at least d1 + d2",
            format!("{} mm, {} mm, {} mm", significant(a, 5), significant(b, 5), significant(c, 5)),
            format!("{} mm", significant(diameter, 5)),
            Some(&geometry("circle round three touching circles")),
        );
        diameter
    } else {
        mixed(&sorted, &mut working)
    };
    Ok(Worked {
        value: Millimetres::new(diameter),
        working,
    })
}

fn geometry(place: &str) -> Source {
    Source::new("plane geometry", place, Status::Computed)
}

/// Diameter of the circle round three touching circles of diameters a ≥ b ≥ c.
fn round_three(a: f64, b: f64, c: f64) -> f64 {
    let (ka, kb, kc) = (2.0 / a, 2.0 / b, 2.0 / c);
    let outer = ka + kb + kc - 2.0 * (ka * kb + kb * kc + kc * ka).sqrt();
    let two_thickest = a + b;
    // Not below zero: the thinnest lies in the gap beside the other two.
    if outer >= 0.0 {
        return two_thickest;
    }
    (-2.0 / outer).max(two_thickest)
}

fn mixed(sorted: &[f64], working: &mut Working) -> f64 {
    let squares: f64 = sorted.iter().map(|d| d * d).sum();
    let (factor, source) = limits::number(Limit::BundleFactorMixed, RuleSet::UsVoluntary)
        .map_or_else(
            || panic!("limits.csv: no bundle factor"),
            |cited| (cited.value, cited.source),
        );
    let by_area = factor * squares.sqrt();
    working.step(
        format!("{} wires of mixed sizes", sorted.len()),
        "D = 1.2 · √(Σ d²)",
        format!("{factor} × √{} mm²", significant(squares, 5)),
        format!("{} mm", significant(by_area, 5)),
        Some(&source),
    );
    let two_thickest = sorted.iter().take(2).sum::<f64>();
    if two_thickest > by_area {
        working.step(
            "the two thickest side by side are wider",
            "D = d1 + d2",
            format!(
                "{} + {}",
                significant(sorted[0], 5),
                significant(two_thickest - sorted[0], 5)
            ),
            format!("{} mm", significant(two_thickest, 5)),
            Some(&geometry("two touching circles")),
        );
        return two_thickest;
    }
    by_area
}

/// Wires that lie together, and the bore they may run in.
#[derive(Clone, Debug, PartialEq)]
pub struct BundleQuestion {
    /// Diameter of each wire over its insulation.
    pub diameters: Vec<Millimetres>,
    /// Bore of the conduit, if they run in one.
    pub bore: Option<Millimetres>,
}

/// Bundle diameter and conduit fill.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BundleAnswer {
    /// Diameter of the bundle, mm.
    pub diameter_mm: f64,
    /// Share of the bore the wires fill, percent; null without a bore.
    pub fill_percent: Option<f64>,
    /// Greatest share permitted for this number of wires, percent; null without a bore.
    pub fill_limit_percent: Option<f64>,
    /// Whether the fill is within its limit; null without a bore.
    pub fill_within_limit: Option<bool>,
    /// Whether the bundle is narrower than the bore; null without a bore.
    pub enters_bore: Option<bool>,
    /// How the results were reached.
    pub working: Working,
    /// The sources used, each once.
    pub sources: Vec<Source>,
}

/// Answers a question about a bundle.
///
/// # Errors
/// When no diameter is given.
pub fn bundle(question: &BundleQuestion) -> Result<BundleAnswer, NotEvaluated> {
    let found = bundle_diameter(&question.diameters)?;
    let mut working = found.working;
    let count = question.diameters.len();
    let limit = conduit_fill_limit(count);
    let (mut fill_percent, mut fill_limit_percent) = (None, None);
    if let (Some(bore), Some(limit)) = (question.bore, limit) {
        let wires: f64 = question
            .diameters
            .iter()
            .map(|d| d.circle_area().value())
            .sum();
        let percent = 100.0 * wires / bore.circle_area().value();
        working.step(
            "share of the bore filled",
            "100 · Σ wire areas / bore area",
            format!(
                "100 × {} mm² / {} mm²",
                significant(wires, 5),
                significant(bore.circle_area().value(), 5)
            ),
            format!("{} %", significant(percent, 4)),
            Some(&geometry("areas of circles")),
        );
        working.step(
            format!("greatest share for {count} in a conduit"),
            "",
            format!("row for {count}"),
            format!("{} %", limit.value),
            Some(&limit.source),
        );
        jam_step(&question.diameters, bore, &mut working);
        (fill_percent, fill_limit_percent) = (Some(percent), Some(limit.value));
    }
    Ok(BundleAnswer {
        diameter_mm: found.value.value(),
        fill_percent,
        fill_limit_percent,
        fill_within_limit: fill_percent
            .zip(fill_limit_percent)
            .map(|(fill, limit)| fill <= limit),
        enters_bore: question.bore.map(|bore| found.value <= bore),
        sources: working.sources(),
        working,
    })
}

/// Three equal cables jam in a bore about three diameters wide: said where it may happen.
fn jam_step(diameters: &[Millimetres], bore: Millimetres, working: &mut Working) {
    let [a, b, c] = diameters else { return };
    if a != b || b != c {
        return;
    }
    let bound = |limit| limits::number(limit, RuleSet::UsVoluntary);
    let (Some(low), Some(high)) = (bound(Limit::JamRatioLow), bound(Limit::JamRatioHigh)) else {
        return;
    };
    let jam_ratio = bore / *a;
    if jam_ratio >= low.value && jam_ratio <= high.value {
        working.step(
            "three equal cables may jam in this bore",
            "bore / d",
            format!("{} mm / {} mm", bore.value(), a.value()),
            format!(
                "{}: avoid {} to {}",
                significant(jam_ratio, 3),
                low.value,
                high.value
            ),
            Some(&low.source),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn diameter(diameters: &[f64]) -> f64 {
        let wires: Vec<_> = diameters.iter().map(|&d| Millimetres::new(d)).collect();
        bundle_diameter(&wires).unwrap().value.value()
    }

    #[test]
    fn equal_wires_by_closest_packing() {
        // Computed from the packing ratios: 7 x 2.8 mm, 12 x 2.8 mm, 19 x 3.0 mm, 24 x 3.4 mm.
        for (count, wire, expected) in [
            (1, 2.8, 2.8),
            (7, 2.8, 8.4),
            (12, 2.8, 11.283),
            (19, 3.0, 14.591),
            (24, 3.4, 19.216),
        ] {
            assert!(
                (diameter(&vec![wire; count]) - expected).abs() < 5e-4,
                "{count}"
            );
        }
        // Above the table the mixed rule takes over.
        assert!((diameter(&[2.0; 31]) - 1.2 * (31.0f64 * 4.0).sqrt()).abs() < 1e-12);
    }

    #[test]
    fn two_and_three_wires_are_exact() {
        assert_eq!(diameter(&[3.0, 5.0]), 8.0);
        // Three equal circles: 1 + 2/sqrt(3) by Descartes as by the table.
        assert!((round_three(1.0, 1.0, 1.0) - 2.154_701).abs() < 1e-6);
        // A thin third wire lies in the gap beside two thick ones.
        assert_eq!(diameter(&[10.0, 10.0, 1.0]), 20.0);
        let grown = diameter(&[10.0, 10.0, 9.0]);
        assert!(20.0 < grown && grown < 21.547_01);
    }

    #[test]
    fn mixed_wires_by_the_shop_rule() {
        // A maker's page on bundle size: 3 x 1.19, 5 x 1.4, 1 x 1.65 mm (exact 4.914 mm).
        let mut wires = vec![1.19; 3];
        wires.extend([1.4; 5]);
        wires.push(1.65);
        assert!((diameter(&wires) - 4.914).abs() < 1e-3);
        // Two thick and two thin: the thick ones alone need 20 mm.
        assert_eq!(diameter(&[10.0, 10.0, 1.0, 1.0]), 20.0);
    }

    #[test]
    fn nothing_is_no_bundle() {
        assert!(bundle_diameter(&[]).is_err());
    }

    #[test]
    fn fill_and_its_limit() {
        let wires = |count, d| vec![Millimetres::new(d); count];
        let answer = bundle(&BundleQuestion {
            diameters: wires(10, 4.0),
            bore: Some(Millimetres::new(20.0)),
        })
        .unwrap();
        // 10 x 16 / 400 = 40 %: exactly at the limit.
        assert!((answer.fill_percent.unwrap() - 40.0).abs() < 1e-9);
        assert_eq!(answer.fill_limit_percent, Some(40.0));
        assert_eq!(answer.enters_bore, Some(true));
        let none = bundle(&BundleQuestion {
            diameters: wires(10, 4.0),
            bore: None,
        })
        .unwrap();
        assert_eq!((none.fill_percent, none.enters_bore), (None, None));
    }

    #[test]
    fn three_equal_cables_that_may_jam_are_named() {
        let jam = |bore| {
            bundle(&BundleQuestion {
                diameters: vec![Millimetres::new(10.0); 3],
                bore: Some(Millimetres::new(bore)),
            })
            .unwrap()
            .working
            .steps()
            .iter()
            .any(|step| step.what.contains("jam"))
        };
        assert!(jam(30.0) && !jam(40.0));
    }
}
