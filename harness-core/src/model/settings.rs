//! How a model is judged and cut.

use crate::choices::{AreaBasis, DcBundling, DropBasis, RuleSet, SizeSeriesChoice};
use crate::units::{Celsius, Millimetres, Ohms};

/// Settings of a model, defaults filled in. What has no safe default stays `None`.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// Rule sets that apply.
    pub rule_sets: Vec<RuleSet>,
    /// Series the yard stocks.
    pub size_series: SizeSeriesChoice,
    /// How conductor resistance is found.
    pub drop_basis: DropBasis,
    /// Area behind a gauge number for the trade constant.
    pub area_basis: AreaBasis,
    /// How ampacity falls in a bundle below 50 V.
    pub dc_bundling: DcBundling,
    /// Insulation class of a wire that states none.
    pub insulation: Option<Celsius>,
    /// Length added to each run for dressing, as a share.
    pub slack_share: f64,
    /// Cut lengths are rounded up to this step.
    pub cut_step: Millimetres,
    /// Resistance of a mated contact whose connector type states none.
    pub contact_resistance: Option<Ohms>,
    /// Scrap added to wire in the parts list, as a share.
    pub scrap_share: f64,
}

impl Default for Settings {
    /// Both United States rule sets, AWG, copper at temperature, bundling by count (the
    /// strictest); 3 % slack, 10 mm cutting step and 5 % scrap are our practice, since no boat
    /// source gives figures.
    fn default() -> Self {
        Self {
            rule_sets: vec![RuleSet::UsFederal, RuleSet::UsVoluntary],
            size_series: SizeSeriesChoice::Awg,
            drop_basis: DropBasis::CopperAtTemperature,
            area_basis: AreaBasis::Awg,
            dc_bundling: DcBundling::ByCount,
            insulation: None,
            slack_share: 0.03,
            cut_step: Millimetres::new(10.0),
            contact_resistance: None,
            scrap_share: 0.05,
        }
    }
}
