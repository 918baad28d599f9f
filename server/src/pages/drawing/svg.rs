//! Writing SVG: every text and attribute is escaped here.

use std::fmt::Write;

/// A drawing under way.
#[derive(Debug)]
pub(super) struct Svg(String);

/// A number as short as a drawing needs it.
pub(super) fn number(value: f64) -> String {
    let text = format!("{value:.1}");
    text.strip_suffix(".0")
        .map_or_else(|| text.clone(), str::to_owned)
}

fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            // Not allowed in a document at all.
            control if control.is_control() => safe.push(' '),
            other => safe.push(other),
        }
    }
    safe
}

impl Svg {
    /// A drawing of this size in its own units. `id` is unique on the page; `what` and `how`
    /// tell what is drawn and how to read it.
    pub(super) fn new(id: &str, size: (f64, f64), what: &str, how: &str) -> Self {
        let mut svg = Self(String::new());
        let (title, description) = (format!("{id}-title"), format!("{id}-how"));
        svg.open(
            "svg",
            &[
                ("xmlns", "http://www.w3.org/2000/svg"),
                ("class", &format!("drawing {id}")),
                (
                    "viewBox",
                    &format!("0 0 {} {}", number(size.0), number(size.1)),
                ),
                ("width", &number(size.0)),
                ("height", &number(size.1)),
                ("role", "group"),
                ("aria-labelledby", &format!("{title} {description}")),
            ],
        );
        svg.element("title", &[("id", &title)], what);
        svg.element("desc", &[("id", &description)], how);
        svg
    }

    pub(super) fn open(&mut self, name: &str, attributes: &[(&str, &str)]) {
        self.start(name, attributes);
        self.0.push('>');
    }

    pub(super) fn close(&mut self, name: &str) {
        let _ = write!(self.0, "</{name}>");
    }

    pub(super) fn leaf(&mut self, name: &str, attributes: &[(&str, &str)]) {
        self.start(name, attributes);
        self.0.push_str("/>");
    }

    pub(super) fn element(&mut self, name: &str, attributes: &[(&str, &str)], text: &str) {
        self.open(name, attributes);
        self.0.push_str(&escaped(text));
        self.close(name);
    }

    /// Words at a place; `class` gives size and anchor.
    pub(super) fn words(&mut self, class: &str, (x, y): (f64, f64), text: &str) {
        let attributes = [("class", class), ("x", &number(x)), ("y", &number(y))];
        self.element("text", &attributes, text);
    }

    /// A name at a place: it has room for no other words.
    pub(super) fn name(&mut self, class: &str, (x, y): (f64, f64), text: &str) {
        let attributes = [
            ("class", class),
            ("x", &number(x)),
            ("y", &number(y)),
            ("translate", "no"),
        ];
        self.element("text", &attributes, text);
    }

    /// A bare number at a place, with the exact quantity it stands for.
    pub(super) fn amount(&mut self, class: &str, (x, y): (f64, f64), text: &str, exact: &str) {
        let attributes = [
            ("class", class),
            ("x", &number(x)),
            ("y", &number(y)),
            ("data-quantity", exact),
        ];
        self.element("text", &attributes, text);
    }

    pub(super) fn line(&mut self, class: &str, from: (f64, f64), to: (f64, f64), width: f64) {
        self.leaf(
            "line",
            &[
                ("class", class),
                ("x1", &number(from.0)),
                ("y1", &number(from.1)),
                ("x2", &number(to.0)),
                ("y2", &number(to.1)),
                ("stroke-width", &number(width)),
            ],
        );
    }

    /// A run between two points, which it names.
    pub(super) fn run(
        &mut self,
        class: &str,
        (from, to): ((f64, f64), (f64, f64)),
        ends: [&str; 2],
    ) {
        let [x1, y1, x2, y2] = [from.0, from.1, to.0, to.1].map(number);
        let attributes = [
            ("class", class),
            ("x1", &*x1),
            ("y1", &*y1),
            ("x2", &*x2),
            ("y2", &*y2),
            ("data-from", ends[0]),
            ("data-to", ends[1]),
        ];
        self.leaf("line", &attributes);
    }

    pub(super) fn circle(&mut self, class: &str, (x, y): (f64, f64), radius: f64) {
        let attributes = [
            ("class", class),
            ("cx", &number(x)),
            ("cy", &number(y)),
            ("r", &number(radius)),
        ];
        self.leaf("circle", &attributes);
    }

    pub(super) fn triangle(&mut self, class: &str, (x, y): (f64, f64), size: f64) {
        let points = format!(
            "{},{} {},{} {},{}",
            number(x),
            number(y - size),
            number(x + size * 0.9),
            number(y + size * 0.6),
            number(x - size * 0.9),
            number(y + size * 0.6)
        );
        self.leaf("polygon", &[("class", class), ("points", &points)]);
    }

    pub(super) fn done(mut self) -> String {
        self.close("svg");
        self.0
    }

    fn start(&mut self, name: &str, attributes: &[(&str, &str)]) {
        let _ = write!(self.0, "<{name}");
        for (key, value) in attributes {
            let _ = write!(self.0, " {key}=\"{}\"", escaped(value));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_drawn_cannot_leave_its_place() {
        let hostile = "\"><script>alert('1')</script>\u{1}&";
        let mut svg = Svg::new("a", (10.0, 5.25), hostile, hostile);
        svg.words(hostile, (1.0, 2.04), hostile);
        let drawn = svg.done();
        assert!(
            !drawn.contains("<script") && !drawn.contains('\u{1}'),
            "{drawn}"
        );
        assert!(drawn.contains("viewBox=\"0 0 10 5.2\"") && drawn.ends_with("</text></svg>"));
    }
}
