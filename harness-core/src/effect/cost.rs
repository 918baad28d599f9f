//! What a change of conductor costs, at the prices of a builder's parts list.

use super::conductor::{ConductorChange, ConductorLength};
use crate::file_format::records::ConductorPartRecord;
use crate::units::{WireSize, significant};

/// Less of a conductor than this is rounding, in meters.
const NO_LENGTH_M: f64 = 1e-9;

/// Cost of a change of conductor: of the conductor alone, without ends, scrap and minutes.
#[derive(Clone, Debug, PartialEq)]
pub struct ConductorCost {
    /// Each conductor of which more or less is needed.
    pub rows: Vec<CostRow>,
    /// Least and greatest amount, in the currency of the list; or why it is not evaluated.
    pub amount: Result<(f64, f64), String>,
}

/// What more or less of one conductor costs.
#[derive(Clone, Debug, PartialEq)]
pub struct CostRow {
    /// Meters of which conductor.
    pub conductor: ConductorLength,
    /// Parts of the list that state a price for it: part number and price of one meter.
    pub prices: Vec<(String, f64)>,
}

impl ConductorCost {
    /// Meters of each conductor times the price of one meter of those parts that have its size,
    /// and its insulation class where both state one. Where these differ, the amount is a range.
    pub fn of(change: &ConductorChange, parts: &[ConductorPartRecord]) -> Self {
        let needed = change.by_conductor.iter();
        let needed = needed.filter(|one| one.length_m.abs() > NO_LENGTH_M);
        let rows: Vec<CostRow> = needed
            .map(|conductor| CostRow {
                conductor: conductor.clone(),
                prices: prices(conductor, parts),
            })
            .collect();
        let amount = amount(change, &rows);
        Self { rows, amount }
    }

    /// The amount in words.
    pub fn words(&self) -> String {
        match &self.amount {
            Err(why) => format!("not evaluated, because {why}"),
            Ok(_) if self.rows.is_empty() => "none".to_owned(),
            Ok(ends) => range(*ends),
        }
    }

    /// A share of the amount in words, as that of the average boat where not every boat has it.
    pub fn words_of_share(&self, share: f64) -> String {
        let part = Self {
            rows: self.rows.clone(),
            amount: self.amount.clone().map(|(a, b)| (a * share, b * share)),
        };
        part.words()
    }

    /// How each row was worked out, in words.
    pub fn working(&self) -> Vec<String> {
        self.rows.iter().map(CostRow::words).collect()
    }
}

impl CostRow {
    /// Least and greatest amount; `None` without a price.
    fn amount(&self) -> Option<(f64, f64)> {
        let each = || self.prices.iter();
        let amounts = each().map(|(_, price)| price * self.conductor.length_m);
        amounts.fold(None, |ends: Option<(f64, f64)>, amount| {
            let (least, greatest) = ends.unwrap_or((amount, amount));
            Some((least.min(amount), greatest.max(amount)))
        })
    }

    fn words(&self) -> String {
        let needed = format!(
            "{}: {:+.2} m",
            words(&self.conductor),
            self.conductor.length_m
        );
        let Some(ends) = self.amount() else {
            return format!("{needed}, no price stated");
        };
        let prices = self.prices.iter();
        let prices = prices.map(|(id, price)| format!("{} (part {id})", significant(*price, 6)));
        let prices: Vec<_> = prices.collect();
        format!("{needed} × {} = {}", prices.join(" or "), range(ends))
    }
}

fn words(conductor: &ConductorLength) -> String {
    match conductor.insulation_degc {
        Some(degrees) => format!("{}, {} °C", conductor.size, significant(degrees, 4)),
        None => conductor.size.to_string(),
    }
}

fn prices(conductor: &ConductorLength, parts: &[ConductorPartRecord]) -> Vec<(String, f64)> {
    let fits = |part: &&ConductorPartRecord| {
        let insulations = conductor.insulation_degc.zip(part.insulation_degc);
        part.size.parse::<WireSize>() == Ok(conductor.size)
            && insulations.is_none_or(|(wire, part)| wire == part)
    };
    let fitting = parts.iter().filter(fits);
    fitting
        .filter_map(|part| Some((part.id.clone(), part.price_per_m?)))
        .collect()
}

fn amount(change: &ConductorChange, rows: &[CostRow]) -> Result<(f64, f64), String> {
    if !change.unknown.is_empty() {
        let wires = change.unknown.join(", ");
        return Err(format!("size or length is not known of {wires}"));
    }
    let unpriced = rows.iter().filter(|row| row.amount().is_none());
    let unpriced: Vec<_> = unpriced.map(|row| words(&row.conductor)).collect();
    if !unpriced.is_empty() {
        return Err(format!(
            "no conductor of the parts list states the price of one meter for {}",
            unpriced.join(" and ")
        ));
    }
    let amounts = rows.iter().filter_map(CostRow::amount);
    Ok(amounts.fold((0.0, 0.0), |sum, row| (sum.0 + row.0, sum.1 + row.1)))
}

/// An amount to the cent, with its sign.
fn money(amount: f64) -> String {
    match (amount * 100.0).round() {
        0.0 => "0.00".to_owned(),
        cents => format!("{:+.2}", cents / 100.0),
    }
}

fn range((least, greatest): (f64, f64)) -> String {
    let (least, greatest) = (money(least), money(greatest));
    match least == greatest {
        true => least,
        false => format!("{least} to {greatest}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::file_format::read_parts;
    use serde_json::{Value, json};

    fn needed(size: &str, insulation_degc: Option<f64>, length_m: f64) -> ConductorLength {
        ConductorLength {
            size: size.parse().unwrap(),
            insulation_degc,
            length_m,
        }
    }

    fn cost(by_conductor: Vec<ConductorLength>, conductors: &Value) -> ConductorCost {
        let change = ConductorChange {
            by_conductor,
            ..ConductorChange::default()
        };
        let list = json!({"format_version": 1, "conductors": conductors});
        ConductorCost::of(&change, &read_parts(&list.to_string()).unwrap().conductors)
    }

    #[test]
    fn meters_of_each_conductor_times_its_price_by_hand() {
        let lengths = vec![
            needed("16 AWG", Some(105.0), -4.0),
            needed("14 AWG", Some(105.0), 4.0),
        ];
        let parts = json!([
            {"id": "R16", "size": "16 AWG", "price_per_m": 0.5},
            {"id": "R14", "size": "14 AWG", "insulation_degc": 105, "price_per_m": 0.75},
            {"id": "R14-60", "size": "14 AWG", "insulation_degc": 60, "price_per_m": 0.25},
            {"id": "R14-new", "size": "14 AWG", "insulation_degc": 105},
        ]);
        let found = cost(lengths, &parts);
        assert_eq!(found.amount, Ok((1.0, 1.0)));
        assert_eq!(found.words(), "+1.00");
        assert_eq!(
            found.working(),
            [
                "16 AWG, 105 °C: -4.00 m × 0.5 (part R16) = -2.00",
                "14 AWG, 105 °C: +4.00 m × 0.75 (part R14) = +3.00"
            ]
        );
    }

    #[test]
    fn two_prices_of_one_conductor_give_a_range_whichever_way_it_goes() {
        let parts = json!([
            {"id": "A", "size": "2.5 mm²", "price_per_m": 1.0},
            {"id": "B", "size": "2.5 mm²", "price_per_m": 1.5},
        ]);
        let more = cost(vec![needed("2.5 mm²", None, 2.0)], &parts);
        assert_eq!(more.words(), "+2.00 to +3.00");
        let less = cost(vec![needed("2.5 mm²", None, -2.0)], &parts);
        assert_eq!(less.words(), "-3.00 to -2.00");
        let same = cost(vec![needed("2.5 mm²", None, 1e-12)], &parts);
        assert_eq!((same.words().as_str(), same.rows.len()), ("none", 0));
    }

    #[test]
    fn what_has_no_price_or_no_length_is_named_and_gives_no_amount() {
        let lengths = vec![needed("16 AWG", None, -4.0), needed("14 AWG", None, 4.0)];
        let parts = json!([{"id": "R14", "size": "14 AWG", "price_per_m": 0}]);
        let found = cost(lengths, &parts);
        assert_eq!(
            found.words(),
            "not evaluated, because no conductor of the parts list states the price of one meter \
             for 16 AWG"
        );
        assert_eq!(found.working()[0], "16 AWG: -4.00 m, no price stated");
        let change = ConductorChange {
            unknown: vec!["W7".to_owned()],
            ..ConductorChange::default()
        };
        let found = ConductorCost::of(&change, &[]);
        assert_eq!(
            found.words(),
            "not evaluated, because size or length is not known of W7"
        );
    }
}
