//! Conductor sizes: area, resistance, diameter, mass, and whether a yard stocks the size.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use super::rows::{Row, read};
use crate::units::{CircularMils, Millimetres, SizeSeries, SquareMillimetres, WireSize};
use crate::working::Cited;

/// One conductor size; each quantity with its own source.
#[derive(Clone, Debug)]
pub struct ConductorRow {
    /// The size as the trade writes it.
    pub size: WireSize,
    /// Area of the gauge (solid wire of the defining series), or the nominal metric area.
    pub area: Cited<SquareMillimetres>,
    /// Smallest area a conductor of this gauge may have; gauges of the trade series only.
    pub sae_minimum: Option<Cited<CircularMils>>,
    /// Resistance at 20 °C, ohm per kilometre, stranding included.
    pub resistance_20c_ohm_per_km: Cited<f64>,
    /// Factor on `ρ L / A` for the lay of the strands.
    pub stranding_allowance: Cited<f64>,
    /// Diameter over the insulation of a single boat-cable conductor, typical.
    pub diameter: Cited<Millimetres>,
    /// Mass of the insulated conductor, kg per kilometre, typical.
    pub mass_kg_per_km: Cited<f64>,
    /// Whether this size is offered as shipped.
    pub stocked: Cited<bool>,
}

/// Every conductor size, gauges thin to thick and then metric sizes thin to thick.
pub fn rows() -> &'static [ConductorRow] {
    static TABLE: OnceLock<Vec<ConductorRow>> = OnceLock::new();
    TABLE.get_or_init(|| {
        let rows = read("conductors.csv", include_str!("../../data/conductors.csv"));
        let mut by_size: BTreeMap<WireSize, BTreeMap<String, &Row>> = BTreeMap::new();
        for row in &rows {
            by_size
                .entry(row.value("size"))
                .or_default()
                .insert(row.text("quantity").to_owned(), row);
        }
        by_size
            .into_iter()
            .map(|(size, quantities)| conductor(size, &quantities))
            .collect()
    })
}

fn conductor(size: WireSize, quantities: &BTreeMap<String, &Row>) -> ConductorRow {
    let optional = |name: &str| quantities.get(name).map(|row| row.cited_number("value"));
    let needed = |name: &str| {
        optional(name).unwrap_or_else(|| panic!("conductors.csv: {size} has no row {name}"))
    };
    ConductorRow {
        size,
        area: optional("area_mm2").map_or_else(
            || needed("area_cmil").map(|cmil| CircularMils::new(cmil).square_millimetres()),
            |area| area.map(SquareMillimetres::new),
        ),
        sae_minimum: optional("sae_minimum_cmil").map(|cited| cited.map(CircularMils::new)),
        resistance_20c_ohm_per_km: needed("resistance_20c"),
        stranding_allowance: needed("stranding_allowance"),
        diameter: needed("diameter").map(Millimetres::new),
        mass_kg_per_km: needed("mass"),
        stocked: needed("stocked").map(|flag| flag == 1.0),
    }
}

/// The row of one size; none for a size outside the tables.
pub fn row(size: WireSize) -> Option<&'static ConductorRow> {
    rows().iter().find(|row| row.size == size)
}

/// The stocked sizes of a series, thin to thick.
pub fn stocked(series: SizeSeries) -> impl DoubleEndedIterator<Item = &'static ConductorRow> {
    rows()
        .iter()
        .filter(move |row| row.size.series() == series && row.stocked.value)
}

/// The thickest size of a series that has no more copper than `area`, stocked or not.
pub fn next_smaller(series: SizeSeries, area: SquareMillimetres) -> Option<&'static ConductorRow> {
    rows()
        .iter()
        .rfind(|row| row.size.series() == series && row.area.value <= area)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn size(text: &str) -> WireSize {
        text.parse().unwrap()
    }

    #[test]
    fn the_series_are_complete_and_thin_to_thick() {
        let names = |series| {
            stocked(series)
                .map(|row| row.size.to_string())
                .collect::<Vec<_>>()
                .join(" ")
        };
        assert_eq!(
            names(SizeSeries::Awg),
            "18 AWG 16 AWG 14 AWG 12 AWG 10 AWG 8 AWG 6 AWG 4 AWG 2 AWG 1 AWG 1/0 AWG 2/0 AWG \
             3/0 AWG 4/0 AWG"
        );
        assert_eq!(stocked(SizeSeries::Metric).count(), 14);
        assert!(row(size("3 AWG")).is_some_and(|row| !row.stocked.value));
        for series in [SizeSeries::Awg, SizeSeries::Metric] {
            let rows: Vec<_> = rows()
                .iter()
                .filter(|r| r.size.series() == series)
                .collect();
            for pair in rows.windows(2) {
                assert!(pair[0].area.value < pair[1].area.value);
                assert!(pair[0].diameter.value < pair[1].diameter.value);
                assert!(pair[0].mass_kg_per_km.value < pair[1].mass_kg_per_km.value);
                assert!(
                    pair[0].resistance_20c_ohm_per_km.value
                        > pair[1].resistance_20c_ohm_per_km.value
                );
            }
        }
    }

    #[test]
    fn gauge_areas_are_the_printed_ones() {
        // NEC chapter 9 table 8 and NBS Handbook 100 print these areas (circular mils).
        for (gauge, printed) in [
            ("18 AWG", 1620.0),
            ("12 AWG", 6530.0),
            ("4 AWG", 41_740.0),
            ("1/0 AWG", 105_600.0),
            ("4/0 AWG", 211_600.0),
        ] {
            let area = row(size(gauge)).unwrap().area.value.circular_mils().value();
            assert!((area / printed - 1.0).abs() < 0.003, "{gauge}: {area}");
        }
    }

    #[test]
    fn metric_resistance_is_iec_60228_class_5_tinned() {
        let row = row(size("2.5 mm2")).unwrap();
        assert_eq!(row.resistance_20c_ohm_per_km.value, 8.21);
        assert_eq!(row.resistance_20c_ohm_per_km.source.document, "IEC 60228");
        assert!(row.sae_minimum.is_none());
    }

    #[test]
    fn the_minimum_area_is_below_the_gauge_area() {
        for row in stocked(SizeSeries::Awg) {
            let minimum = row.sae_minimum.as_ref().unwrap().value.square_millimetres();
            assert!(minimum < row.area.value, "{}", row.size);
        }
    }

    #[test]
    fn a_metric_size_finds_the_gauge_below_it() {
        let below = |text: &str| {
            next_smaller(SizeSeries::Awg, row(size(text)).unwrap().area.value)
                .map(|row| row.size.to_string())
        };
        assert_eq!(below("2.5 mm2").as_deref(), Some("14 AWG"));
        assert_eq!(below("35 mm2").as_deref(), Some("2 AWG"));
        assert_eq!(below("0.75 mm2"), None);
    }
}
