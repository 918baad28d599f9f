//! Curves over a length, with a limit line.

use harness_core::working::significant;

use super::svg::Svg;

const SIZE: (f64, f64) = (760.0, 300.0);
/// Left, top, right, bottom of the plotted field.
const FIELD: (f64, f64, f64, f64) = (64.0, 16.0, 600.0, 256.0);

/// One curve.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// Words at its end.
    pub name: String,
    /// Class in the style sheet: tells curves apart by dash as well as by color.
    pub class: &'static str,
    /// Its corners, in the units of the axes.
    pub points: Vec<(f64, f64)>,
}

/// What is plotted.
#[derive(Clone, Debug, PartialEq)]
pub struct Plot {
    /// Unique on the page.
    pub id: &'static str,
    /// What is plotted.
    pub title: String,
    /// How to read it.
    pub how: String,
    /// Words of the axes, with units; the first is a length in meters.
    pub axes: (&'static str, &'static str),
    /// The curves.
    pub curves: Vec<Curve>,
    /// The limit, and its words.
    pub limit: Option<(f64, String)>,
    /// Whether the vertical axis begins at nought.
    pub from_zero: bool,
}

/// Draws it; an empty string when there is nothing to plot.
pub fn plot(plot: &Plot) -> String {
    let points = || plot.curves.iter().flat_map(|curve| &curve.points);
    let most_x = points().map(|point| point.0).fold(0.0, f64::max);
    let limit = plot.limit.as_ref().map(|(value, _)| *value);
    let values = || points().map(|point| point.1).chain(limit);
    let (low, high) = (
        values().fold(f64::INFINITY, f64::min),
        values().fold(f64::NEG_INFINITY, f64::max),
    );
    if most_x <= 0.0 || !low.is_finite() || !high.is_finite() {
        return String::new();
    }
    let low = if plot.from_zero { 0.0 } else { low };
    let room = ((high - low) * 0.08).max(high.abs() * 1e-3).max(1e-6);
    let (low, high) = (if plot.from_zero { 0.0 } else { low - room }, high + room);
    let x = |value: f64| FIELD.0 + (FIELD.2 - FIELD.0) * value / most_x;
    let y = |value: f64| FIELD.3 - (FIELD.3 - FIELD.1) * (value - low) / (high - low);

    let mut svg = Svg::new(plot.id, SIZE, &plot.title, &plot.how);
    for step in ticks(low, high) {
        svg.line("grid", (FIELD.0, y(step)), (FIELD.2, y(step)), 1.0);
        svg.words(
            "tick-y",
            (FIELD.0 - 6.0, y(step) + 4.0),
            &significant(step, 4),
        );
    }
    for step in ticks(0.0, most_x) {
        svg.line("grid", (x(step), FIELD.3), (x(step), FIELD.3 + 5.0), 1.0);
        let exact = format!("{step} m");
        let at = (x(step), FIELD.3 + 18.0);
        svg.amount("tick-x", at, &significant(step, 4), &exact);
    }
    svg.line("axis", (FIELD.0, FIELD.3), (FIELD.2, FIELD.3), 1.0);
    svg.words(
        "axis-name",
        ((FIELD.0 + FIELD.2) / 2.0, SIZE.1 - 6.0),
        plot.axes.0,
    );
    svg.words("axis-name start", (2.0, FIELD.1 - 2.0), plot.axes.1);
    let mut labels: Vec<(f64, String, &str)> = Vec::new();
    if let Some((value, words)) = &plot.limit {
        svg.line("limit", (FIELD.0, y(*value)), (FIELD.2, y(*value)), 2.0);
        labels.push((y(*value), words.clone(), "label limit-words"));
    }
    for curve in &plot.curves {
        let corners: Vec<_> = curve
            .points
            .iter()
            .map(|(px, py)| format!("{:.1},{:.1}", x(*px), y(*py)))
            .collect();
        svg.leaf(
            "polyline",
            &[("class", curve.class), ("points", &corners.join(" "))],
        );
        if let Some((_, last)) = curve.points.last() {
            labels.push((y(*last), curve.name.clone(), "label"));
        }
    }
    labels.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut free = FIELD.1;
    for (at, words, class) in labels {
        let at = at.max(free);
        svg.words(class, (FIELD.2 + 8.0, at + 4.0), &words);
        free = at + 15.0;
    }
    svg.done()
}

/// Round numbers between two values, about five of them.
pub(super) fn ticks(low: f64, high: f64) -> Vec<f64> {
    let rough = (high - low) / 5.0;
    let mut unit = 1e-6;
    while unit * 10.0 <= rough {
        unit *= 10.0;
    }
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|factor| factor * unit)
        .find(|step| *step >= rough * (1.0 - 1e-9))
        .unwrap_or(10.0 * unit);
    let first = (low / step).ceil() as i64;
    let last = (high / step + 1e-9).floor() as i64;
    (first..=last).map(|number| number as f64 * step).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_within() {
        assert_eq!(ticks(0.0, 10.0), [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]);
        assert_eq!(ticks(11.6, 12.05).len(), 5);
        assert!(ticks(0.0, 1e-5).len() >= 4);
    }
}
