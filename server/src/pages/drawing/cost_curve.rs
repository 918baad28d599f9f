//! Cost over a small number of things to make, with the cheapest marked.

use super::plot::ticks;
use super::svg::Svg;
use harness_core::contents::Cents;

const SIZE: (f64, f64) = (620.0, 300.0);
/// Left, top, right, bottom of the plotted field.
const FIELD: (f64, f64, f64, f64) = (72.0, 34.0, 600.0, 244.0);

/// One number of contents.
#[derive(Clone, Debug, PartialEq)]
pub struct CostPoint {
    /// How many contents.
    pub contents: usize,
    /// Cost a year.
    pub cost: f64,
    /// No plan costs less.
    pub bound: f64,
    /// The cost in words.
    pub label: String,
    /// Whether it is the cheapest.
    pub is_cheapest: bool,
    /// Whether it stands apart: each order has its own.
    pub is_per_order: bool,
}

/// What is drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct CostCurve {
    /// What is drawn.
    pub title: String,
    /// How to read it.
    pub how: String,
    /// The points, by rising number of contents.
    pub points: Vec<CostPoint>,
}

/// Draws it; an empty string without points.
pub fn cost_curve(curve: &CostCurve) -> String {
    let costs = || {
        curve
            .points
            .iter()
            .flat_map(|point| [point.cost, point.bound])
    };
    let (low, high) = (
        costs().fold(f64::INFINITY, f64::min),
        costs().fold(f64::NEG_INFINITY, f64::max),
    );
    if !low.is_finite() || !high.is_finite() {
        return String::new();
    }
    let room = ((high - low) * 0.15).max(high.abs() * 0.01).max(1.0);
    let (low, high) = ((low - room).max(0.0), high + room);
    let step = (FIELD.2 - FIELD.0) / curve.points.len() as f64;
    let x = |place: usize| FIELD.0 + step * (place as f64 + 0.5);
    let y = |cost: f64| FIELD.3 - (FIELD.3 - FIELD.1) * (cost - low) / (high - low);

    let mut svg = Svg::new("cost-curve", SIZE, &curve.title, &curve.how);
    for tick in ticks(low, high) {
        svg.line("grid", (FIELD.0, y(tick)), (FIELD.2, y(tick)), 1.0);
        let words = Cents::new((tick * 100.0).round() as i64).to_string();
        svg.words("tick-y", (FIELD.0 - 6.0, y(tick) + 4.0), &words);
    }
    svg.line("axis", (FIELD.0, FIELD.3), (FIELD.2, FIELD.3), 1.0);
    svg.words("axis-name start", (2.0, 12.0), "cost a year");
    svg.words(
        "axis-name",
        ((FIELD.0 + FIELD.2) / 2.0, SIZE.1 - 6.0),
        "different harnesses to make",
    );
    let corners: Vec<String> = curve
        .points
        .iter()
        .enumerate()
        .filter(|(_, point)| !point.is_per_order)
        .map(|(place, point)| format!("{:.1},{:.1}", x(place), y(point.cost)))
        .collect();
    svg.leaf(
        "polyline",
        &[("class", "curve"), ("points", &corners.join(" "))],
    );
    for (place, point) in curve.points.iter().enumerate() {
        draw(&mut svg, point, (x(place), y(point.cost)), y(point.bound));
    }
    svg.done()
}

fn draw(svg: &mut Svg, point: &CostPoint, (x, y): (f64, f64), bound: f64) {
    if bound > y {
        svg.line("limit", (x, y), (x, bound), 1.5);
        svg.line("limit", (x - 6.0, bound), (x + 6.0, bound), 1.5);
    }
    if point.is_cheapest {
        svg.circle("ring", (x, y), 9.0);
    }
    svg.circle("dot", (x, y), 4.0);
    svg.words("point-words", (x, y - 14.0), &point.label);
    if point.is_cheapest {
        svg.words("point-words", (x, y - 29.0), "cheapest");
    }
    svg.line("axis", (x, FIELD.3), (x, FIELD.3 + 5.0), 1.0);
    let count = if point.is_per_order {
        format!("{}, each order", point.contents)
    } else {
        point.contents.to_string()
    };
    svg.words("tick-x", (x, FIELD.3 + 19.0), &count);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(contents: usize, cost: f64, bound: f64) -> CostPoint {
        CostPoint {
            contents,
            cost,
            bound,
            label: format!("<{cost}>"),
            is_cheapest: contents == 2,
            is_per_order: contents > 5,
        }
    }

    fn curve(points: Vec<CostPoint>) -> String {
        cost_curve(&CostCurve {
            title: "Cost".to_owned(),
            how: "Points".to_owned(),
            points,
        })
    }

    #[test]
    fn the_cheapest_has_a_ring_and_what_is_not_proven_a_bound() {
        let drawn = curve(vec![
            point(1, 900.0, 900.0),
            point(2, 500.0, 480.0),
            point(12, 700.0, 700.0),
        ]);
        assert_eq!(drawn.matches("class=\"ring\"").count(), 1);
        assert_eq!(drawn.matches("class=\"dot\"").count(), 3);
        assert_eq!(drawn.matches("class=\"limit\"").count(), 2);
        assert!(drawn.contains(">cheapest</text>") && drawn.contains("12, each order"));
        // The line ends before the point that stands apart.
        let line = drawn.split("points=\"").nth(1).unwrap();
        assert_eq!(line.split('"').next().unwrap().split(' ').count(), 2);
    }

    #[test]
    fn without_points_nothing_is_drawn_and_one_point_is_enough() {
        assert_eq!(curve(Vec::new()), "");
        assert!(curve(vec![point(1, 0.0, 0.0)]).contains("class=\"dot\""));
    }
}
