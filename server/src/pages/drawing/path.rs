//! The way of a load's current: from the source to the load, and the return beneath it.

use super::svg::Svg;

/// Width of one element, in units of the drawing.
const STEP: f64 = 112.0;
/// Height of one row.
const ROW: f64 = 124.0;
/// Widest conductor drawn; 4/0 AWG is 107 mm².
const WIDEST: f64 = 16.0;

/// One element on the way, in the direction of the current.
#[derive(Clone, Debug, PartialEq)]
pub struct Element {
    /// What it is: *wire 14-2*, *fuse nav-fuse*.
    pub what: String,
    /// A second line: size and length, or rating.
    pub detail: String,
    /// Zones it lies in.
    pub zone: String,
    /// Area of the conductor in mm²; none for a device or contact.
    pub area_mm2: Option<f64>,
    /// Share of the whole drop, 0 ... 1.
    pub share: f64,
    /// How many other loads use it in this state.
    pub others: usize,
}

/// Draws the way; `ends` are the source and the load.
pub fn path(ends: (&str, &str), feed: &[Element], back: &[Element]) -> String {
    let columns = feed.len().max(back.len()) as f64;
    let size = (columns * STEP + 2.0 * STEP, 2.0 * ROW + 20.0);
    let mut svg = Svg::new(
        "path",
        size,
        &format!("Way from {} to {} and back", ends.0, ends.1),
        "Above: the feed from the source on the left to the load on the right. Beneath: the \
         return. Lines are wider the thicker the conductor; a bar shows the share of the drop.",
    );
    for (x, name) in [(0.0, ends.0), (size.0 - STEP, ends.1)] {
        svg.leaf(
            "rect",
            &[
                ("class", "end"),
                ("x", &format!("{:.1}", x + 4.0)),
                ("y", "30"),
                ("width", &format!("{:.1}", STEP - 8.0)),
                ("height", &format!("{:.1}", 2.0 * ROW - 40.0)),
            ],
        );
        lines(&mut svg, "end-name", (x + STEP / 2.0, ROW - 10.0), name);
    }
    for (row, elements) in [(0.0, feed), (1.0, back)] {
        let y = 44.0 + row * ROW;
        // Both rows span from source to load.
        let step = columns * STEP / elements.len().max(1) as f64;
        if elements.is_empty() {
            svg.line("conductor", (STEP, y), (size.0 - STEP, y), 1.0);
        }
        for (number, element) in elements.iter().enumerate() {
            let left = STEP + number as f64 * step;
            draw(&mut svg, element, (left, y), step);
        }
        let words = if row == 0.0 { "feed →" } else { "← return" };
        svg.words("direction", (STEP + 2.0, y - 24.0), words);
    }
    svg.done()
}

fn draw(svg: &mut Svg, element: &Element, (left, y): (f64, f64), step: f64) {
    let middle = left + step / 2.0;
    match element.area_mm2 {
        Some(area) => {
            let width = (1.5 * area.sqrt()).clamp(1.0, WIDEST);
            svg.line("conductor", (left, y), (left + step, y), width);
        }
        None => {
            svg.line("conductor", (left, y), (left + step, y), 1.0);
            svg.leaf(
                "rect",
                &[
                    ("class", "device"),
                    ("x", &format!("{:.1}", middle - 9.0)),
                    ("y", &format!("{:.1}", y - 7.0)),
                    ("width", "18"),
                    ("height", "14"),
                ],
            );
        }
    }
    svg.line("joint", (left + step, y - 9.0), (left + step, y + 9.0), 1.0);
    let bar = (step - 12.0) * element.share.clamp(0.0, 1.0);
    svg.line(
        "share",
        (left + 6.0, y + 16.0),
        (left + 6.0 + bar, y + 16.0),
        5.0,
    );
    let mut at = y + 32.0;
    let others = match element.others {
        0 => String::new(),
        1 => "shared with 1 load".to_owned(),
        count => format!("shared with {count} loads"),
    };
    let share = format!("{:.0} % of the drop", element.share * 100.0);
    for (class, text) in [
        ("what", &element.what),
        ("detail", &element.detail),
        ("detail", &share),
        ("detail", &element.zone),
        ("others", &others),
    ] {
        if !text.is_empty() {
            let text = shortened(text, step);
            match class {
                "what" => svg.name(class, (middle, at), &text),
                _ => svg.words(class, (middle, at), &text),
            }
            at += 13.0;
        }
    }
}

/// As much of a text as fits; the table under the drawing has the whole.
fn shortened(text: &str, width: f64) -> String {
    let room = (width / 5.6) as usize;
    if text.chars().count() <= room {
        return text.to_owned();
    }
    let kept: String = text.chars().take(room.saturating_sub(1)).collect();
    format!("{}…", kept.trim_end())
}

fn lines(svg: &mut Svg, class: &str, (x, y): (f64, f64), text: &str) {
    for (line, word) in text.split_whitespace().take(4).enumerate() {
        svg.words(
            class,
            (x, y + 15.0 * line as f64),
            &shortened(word, STEP - 8.0),
        );
    }
}
