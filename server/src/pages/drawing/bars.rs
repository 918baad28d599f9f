//! A few amounts one below the other, to be compared at a glance.

use super::svg::{Svg, number};

/// Width of the drawing, and of its words on the left.
const WIDTH: f64 = 620.0;
const WORDS: f64 = 190.0;
/// Room for the amount in words, right of the longest bar.
const AMOUNT: f64 = 90.0;
const ROW: f64 = 34.0;
const THICK: f64 = 18.0;

/// One amount.
#[derive(Clone, Debug, PartialEq)]
pub struct Bar {
    /// What it is.
    pub label: String,
    /// The amount, not below 0.
    pub value: f64,
    /// The amount in words.
    pub amount: String,
}

/// Draws them; an empty string where there is no amount above 0.
pub fn bars(title: &str, how: &str, bars: &[Bar]) -> String {
    let most = bars.iter().map(|bar| bar.value).fold(0.0, f64::max);
    if !(most.is_finite() && most > 0.0) {
        return String::new();
    }
    let mut svg = Svg::new("bars", (WIDTH, ROW * bars.len() as f64), title, how);
    for (place, bar) in bars.iter().enumerate() {
        let middle = ROW * (place as f64 + 0.5);
        let length = (WIDTH - WORDS - AMOUNT) * bar.value / most;
        svg.words("bar-label", (WORDS - 8.0, middle + 4.0), &bar.label);
        svg.leaf(
            "rect",
            &[
                ("class", "bar"),
                ("x", &number(WORDS)),
                ("y", &number(middle - THICK / 2.0)),
                ("width", &number(length)),
                ("height", &number(THICK)),
            ],
        );
        svg.words(
            "bar-amount",
            (WORDS + length + 6.0, middle + 4.0),
            &bar.amount,
        );
    }
    svg.done()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_greatest_takes_all_the_width_and_half_of_it_half() {
        let bar = |value: f64| Bar {
            label: "<now>".to_owned(),
            value,
            amount: format!("{value} kg"),
        };
        let drawn = bars("Copper", "Longer is more.", &[bar(8.0), bar(4.0)]);
        assert!(drawn.contains("width=\"340\""), "{drawn}");
        assert!(drawn.contains("width=\"170\""), "{drawn}");
        assert!(drawn.contains("&lt;now&gt;"), "{drawn}");
        assert_eq!(bars("Copper", "", &[bar(0.0)]), "");
        assert_eq!(bars("Copper", "", &[bar(f64::NAN)]), "");
    }
}
