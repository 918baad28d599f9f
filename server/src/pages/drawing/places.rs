//! The plan with its points: somebody points at a place, and where in the boat that is.

use harness_core::model::{BoatModel, Identified, Index, Point, Run, Zone};
use harness_core::units::Millimetres;

use super::plan::{Panel, draw_names, outline, panels, placed, sheet_size, zones_of};
use super::svg::{Svg, number};

/// A place in the boat that was pointed at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Forward of the transom, mm.
    pub x: f64,
    /// To starboard, mm.
    pub y: f64,
    /// The zone whose outline holds it.
    pub zone: Option<Index<Zone>>,
}

/// What is brought out among the points.
#[derive(Clone, Debug, Default)]
pub struct Chosen {
    /// The point at hand.
    pub point: Option<Index<Point>>,
    /// The run at hand.
    pub run: Option<Index<Run>>,
    /// A place that is not yet a point: x, y and its zone.
    pub place: Option<Place>,
}

/// Where links of the drawing lead; without one a thing is drawn and leads nowhere.
pub struct Links<'l> {
    /// Of a point.
    pub point: &'l dyn Fn(&Point) -> Option<String>,
    /// Of a run.
    pub run: &'l dyn Fn(&Run) -> Option<String>,
}

/// The sheet of a plan: mouldings side by side, each place of it a place of the boat.
pub struct Places<'m> {
    model: &'m BoatModel,
    panels: Vec<Panel>,
    size: (f64, f64),
}

impl<'m> Places<'m> {
    /// Of a model; none where no zone states an outline.
    pub fn of(model: &'m BoatModel) -> Option<Self> {
        let panels = panels(model, None);
        (!panels.is_empty()).then(|| Self {
            model,
            size: sheet_size(&panels),
            panels,
        })
    }

    /// Width and height of the sheet in its own units, which are pixels where it is pointed at.
    pub fn size(&self) -> (u32, u32) {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "the size of a sheet is some hundreds"
        )]
        let whole = |size: f64| size.ceil() as u32;
        (whole(self.size.0), whole(self.size.1))
    }

    /// The place of the boat under a place of the sheet, at the nearest step in mm. Outside of
    /// every outline it is that of the nearest moulding, without a zone.
    pub fn in_boat(&self, at: (f64, f64), step: f64) -> Place {
        let stepped = |value: f64| (value / step).round() * step;
        let on = |panel: &Panel| {
            let (x, y) = panel.boat(at);
            (stepped(x), stepped(y))
        };
        let holding = self.panels.iter().find_map(|panel| {
            let (x, y) = on(panel);
            let zone = zone_of(zones_of(self.model, panel), x, y)?;
            let zone = Some(zone);
            Some(Place { x, y, zone })
        });
        holding.unwrap_or_else(|| {
            let nearest = self
                .panels
                .iter()
                .min_by(|a, b| a.apart(at).total_cmp(&b.apart(at)));
            let (x, y) = nearest.map_or((0.0, 0.0), on);
            Place { x, y, zone: None }
        })
    }

    /// Where a point is drawn; none where it states no place or lies in no moulding drawn.
    pub fn on_sheet(&self, point: Index<Point>) -> Option<(f64, f64)> {
        let (x, y) = placed(self.model, point)?;
        Some(self.panel(self.model.points[point].zone?)?.place(x, y))
    }

    fn panel(&self, zone: Index<Zone>) -> Option<&Panel> {
        let moulding = self.model.zones[zone].moulding;
        self.panels.iter().find(|panel| panel.moulding == moulding)
    }

    /// The point drawn nearest to a place of the sheet.
    pub fn nearest(&self, at: (f64, f64)) -> Option<Index<Point>> {
        let points = self.model.points.indices();
        let drawn = points.filter_map(|point| Some((point, self.on_sheet(point)?)));
        let apart = |(x, y): (f64, f64)| (x - at.0).powi(2) + (y - at.1).powi(2);
        let nearest = drawn.min_by(|a, b| apart(a.1).total_cmp(&apart(b.1)));
        nearest.map(|(point, _)| point)
    }

    /// Draws zones, runs and points.
    pub fn draw(&self, chosen: &Chosen, links: &Links<'_>) -> String {
        let model = self.model;
        let mut svg = Svg::new(
            "plan",
            self.size,
            &format!("Plan of {} with its points", model.name),
            "Seen from above, bow to the right, port side up; mouldings side by side at one scale. \
             Each dot is a point, each line a run.",
        );
        for panel in &self.panels {
            let (x, y) = panel.place(panel.low.0, panel.low.1);
            svg.words("moulding", (x, y - 8.0), panel.title(model));
            // What a script needs to know a place of the boat by its place on the sheet.
            let origin = panel.boat((0.0, 0.0));
            for (_, zone) in zones_of(model, panel) {
                let corners: Vec<_> = outline(zone)
                    .map(|(x, y)| panel.place(x, y))
                    .map(|(x, y)| format!("{},{}", number(x), number(y)))
                    .collect();
                let attributes = [
                    ("class", "zone"),
                    ("points", &*corners.join(" ")),
                    ("data-zone", zone.id()),
                    ("data-title", zone.title()),
                    ("data-area", &number(area(zone))),
                    ("data-x", &origin.0.to_string()),
                    ("data-y", &origin.1.to_string()),
                ];
                svg.leaf("polygon", &attributes);
            }
            draw_names(&mut svg, model, panel, &super::Lit::default());
        }
        for (at, run) in model.runs.iter() {
            let ends = (self.on_sheet(run.from), self.on_sheet(run.to));
            let (Some(from), Some(to)) = ends else {
                continue;
            };
            let label = format!("Run {}", run.id);
            let is_chosen = chosen.run == Some(at);
            linked(&mut svg, (links.run)(run), &label, is_chosen, &[], |svg| {
                svg.line("grip", from, to, 9.0);
                let ends = [run.from, run.to].map(|end| model.points[end].id());
                let class = if is_chosen { "run lit" } else { "run" };
                svg.run(class, (from, to), ends);
            });
        }
        for at in model.points.indices() {
            let Some(place) = self.on_sheet(at) else {
                continue;
            };
            let point = &model.points[at];
            let zone = point.zone.map(|zone| &model.zones[zone]);
            let label = format!("Point {}", point.title());
            let (x, y) = placed(model, at).unwrap_or_default();
            let data = [
                ("data-point", point.id().to_owned()),
                ("data-zone", zone.map_or("", |zone| zone.id()).to_owned()),
                ("data-x", x.to_string()),
                ("data-y", y.to_string()),
                (
                    "data-z",
                    point.z.map_or_else(String::new, |z| z.value().to_string()),
                ),
            ];
            let is_chosen = chosen.point == Some(at);
            linked(
                &mut svg,
                (links.point)(point),
                &label,
                is_chosen,
                &data,
                |svg| {
                    svg.circle("reach", place, 12.0);
                    svg.circle(if is_chosen { "point lit" } else { "point" }, place, 4.5);
                },
            );
        }
        if let Some(place) = chosen.place
            && let Some(panel) = place.zone.and_then(|zone| self.panel(zone))
        {
            let (x, y) = panel.place(place.x, place.y);
            svg.line("place", (x - 8.0, y), (x + 8.0, y), 2.0);
            svg.line("place", (x, y - 8.0), (x, y + 8.0), 2.0);
        }
        svg.done()
    }
}

fn linked(
    svg: &mut Svg,
    href: Option<String>,
    label: &str,
    is_chosen: bool,
    data: &[(&str, String)],
    inside: impl Fn(&mut Svg),
) {
    let Some(href) = href else {
        svg.open("g", &[]);
        svg.element("title", &[], label);
        inside(svg);
        svg.close("g");
        return;
    };
    let mut attributes = vec![("href", href.as_str()), ("aria-label", label)];
    if is_chosen {
        attributes.push(("aria-current", "true"));
    }
    attributes.extend(data.iter().map(|(name, value)| (*name, value.as_str())));
    svg.open("a", &attributes);
    svg.element("title", &[], label);
    inside(svg);
    svg.close("a");
}

/// Twice nothing is nothing: of a zone without outline.
fn area(zone: &Zone) -> f64 {
    let corners: Vec<(f64, f64)> = outline(zone).collect();
    let next = corners.iter().cycle().skip(1);
    let twice: f64 = corners
        .iter()
        .zip(next)
        .map(|(a, b)| a.0 * b.1 - b.0 * a.1)
        .sum();
    twice.abs() / 2.0
}

/// Whether the outline of a zone holds a place, its border counted in.
pub fn holds(zone: &Zone, x: f64, y: f64) -> bool {
    let corners: Vec<(f64, f64)> = outline(zone).collect();
    let next = corners.iter().cycle().skip(1);
    let mut inside = false;
    for (&(ax, ay), &(bx, by)) in corners.iter().zip(next) {
        let cross = (bx - ax) * (y - ay) - (by - ay) * (x - ax);
        let between = |a: f64, b: f64, at: f64| at >= a.min(b) && at <= a.max(b);
        if cross == 0.0 && between(ax, bx, x) && between(ay, by, y) {
            return true;
        }
        // A ray to starboard of x crosses this side.
        if (ay > y) != (by > y) && x < ax + (bx - ax) * (y - ay) / (by - ay) {
            inside = !inside;
        }
    }
    inside
}

/// The smallest of these zones that holds a place: one may lie inside another.
fn zone_of<'m>(
    zones: impl Iterator<Item = (Index<Zone>, &'m Zone)>,
    x: f64,
    y: f64,
) -> Option<Index<Zone>> {
    let holding = zones.filter(|(_, zone)| holds(zone, x, y));
    let smallest = holding.min_by(|a, b| area(a.1).total_cmp(&area(b.1)));
    smallest.map(|(at, _)| at)
}

/// The zones that hold a place, of each moulding the smallest: hull and deck lie above each other.
pub fn zones_at(model: &BoatModel, x: Millimetres, y: Millimetres) -> Vec<Index<Zone>> {
    let mut mouldings: Vec<_> = model.zones.iter().map(|(_, zone)| zone.moulding).collect();
    mouldings.sort_by_key(|moulding| moulding.map(Index::number));
    mouldings.dedup();
    let of = |moulding| {
        model
            .zones
            .iter()
            .filter(move |(_, zone)| zone.moulding == moulding)
    };
    let found = mouldings
        .into_iter()
        .filter_map(|moulding| zone_of(of(moulding), x.value(), y.value()));
    found.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn model() -> BoatModel {
        let file = include_str!("../../../samples/launch-92.json");
        harness_core::file_format::read(file).unwrap()
    }

    #[test]
    fn a_place_of_the_sheet_is_the_place_of_the_boat_that_is_drawn_there() {
        let model = model();
        let places = Places::of(&model).unwrap();
        let mut seen = 0;
        for at in model.points.indices() {
            let Some(sheet) = places.on_sheet(at) else {
                continue;
            };
            let point = &model.points[at];
            let place = places.in_boat(sheet, 0.001);
            let (x, y) = placed(&model, at).unwrap();
            assert!(
                (place.x - x).abs() < 0.01 && (place.y - y).abs() < 0.01,
                "{}",
                point.id()
            );
            let moulding = |zone: Option<Index<Zone>>| zone.map(|zone| model.zones[zone].moulding);
            if place.zone.is_some() {
                assert_eq!(moulding(place.zone), moulding(point.zone), "{}", point.id());
            }
            let near = places.nearest(sheet).unwrap();
            assert_eq!(places.on_sheet(near), Some(sheet));
            seen += 1;
        }
        assert!(seen > 50, "{seen}");
        let outside = places.in_boat((0.0, 0.0), 10.0);
        assert_eq!(outside.zone, None);
    }

    #[test]
    fn a_place_is_held_by_the_outline_around_it() {
        let mut zone = model().zones.iter().next().unwrap().1.clone();
        let corner = |x: f64, y: f64| (Millimetres::new(x), Millimetres::new(y));
        // An L: the corner at (10, 10) is cut out.
        zone.outline = vec![
            corner(0.0, 0.0),
            corner(10.0, 0.0),
            corner(10.0, 5.0),
            corner(5.0, 5.0),
            corner(5.0, 10.0),
            corner(0.0, 10.0),
        ];
        for (x, y, inside) in [
            (1.0, 1.0, true),
            (8.0, 3.0, true),
            (8.0, 8.0, false),
            (5.0, 7.0, true),
            (0.0, 0.0, true),
            (-1.0, 5.0, false),
            (11.0, 5.0, false),
        ] {
            assert_eq!(holds(&zone, x, y), inside, "{x}, {y}");
        }
        assert!((area(&zone) - 75.0).abs() < 1e-9);
    }
}
