//! Colors of d.c. conductors by function.

use std::sync::OnceLock;

use super::rows::read;
use crate::working::Cited;

/// A function and one color that marks it.
#[derive(Clone, Debug, PartialEq)]
pub struct ColorFunction {
    /// What the conductor does.
    pub function: String,
    /// Its color; two colors with a slash are a base color and a stripe.
    pub color: Cited<String>,
    /// What limits the use of this color, empty if nothing.
    pub remark: String,
}

/// Every function with its colors, in table order; a function may have several.
pub fn functions() -> &'static [ColorFunction] {
    static TABLE: OnceLock<Vec<ColorFunction>> = OnceLock::new();
    TABLE.get_or_init(|| {
        read("colors.csv", include_str!("../../data/colors.csv"))
            .iter()
            .map(|row| ColorFunction {
                function: row.text("function").to_owned(),
                color: row.cite(row.text("color").to_owned()),
                remark: row.text("remark").to_owned(),
            })
            .collect()
    })
}

/// Functions a color stands for.
pub fn of_color(color: &str) -> impl Iterator<Item = &'static ColorFunction> {
    functions()
        .iter()
        .filter(move |row| row.color.value.eq_ignore_ascii_case(color))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dc_negative_is_black_or_yellow() {
        // ABYC E-11 color tables, public reprints.
        let negative: Vec<_> = functions()
            .iter()
            .filter(|row| row.function == "DC negative return")
            .map(|row| row.color.value.as_str())
            .collect();
        assert_eq!(negative, ["black", "yellow", "black/yellow"]);
        assert!(of_color("Red").all(|row| row.function == "positive mains"));
        assert_eq!(of_color("orange").count(), 2);
    }

    #[test]
    fn yellow_blowers_carry_their_warning() {
        let blower = of_color("yellow")
            .find(|row| row.function == "bilge blowers")
            .unwrap();
        assert!(blower.remark.contains("DC negative"));
    }
}
