//! Lists typed into the form, a thing a line, read with the lines of all faults.

use std::collections::BTreeMap;

use harness_core::boats::question::QuestionFault;
use harness_core::contents::{ContentsQuestion, ModuleByName, OrderByName, SharedByName};

use crate::error::Fault;
use crate::pages::FieldFault;

/// Stands in the list of orders for boats without any module.
const NONE: &str = "none";

/// The question as far as it could be read, and what could not.
#[derive(Debug, Default)]
pub(super) struct Reading {
    pub question: ContentsQuestion,
    faults: Vec<Placed>,
    /// Lines of modules, shared parts and orders, in their order.
    lines: BTreeMap<&'static str, Vec<usize>>,
}

/// Reads what was asked.
pub(super) fn read(asked: &BTreeMap<String, String>) -> Reading {
    let mut reading = Reading::default();
    let text = |field: &str| asked.get(field).map_or("", String::as_str);
    reading.modules(text("modules"));
    reading.shared(text("shared"));
    reading.orders(text("orders"));
    let base = text("base_cost").trim();
    if !base.is_empty() {
        reading.question.base_cost = reading.number("base_cost", None, base, true);
    }
    let part_number = text("part_number_cost_per_year").trim();
    reading.question.part_number_cost_per_year =
        reading.number("part_number_cost_per_year", None, part_number, true);
    let total = text("boats_per_year").trim();
    if !total.is_empty() {
        let total = reading.whole("boats_per_year", None, total);
        // Against orders that could not be read a total proves nothing.
        let readable = !reading
            .faults
            .iter()
            .any(|placed| placed.fault.field == "orders");
        reading.question.boats_per_year = total.filter(|_| readable);
    }
    reading
}

impl Reading {
    fn modules(&mut self, text: &str) {
        for (line, columns) in lines(text) {
            let fault =
                |reading: &mut Self, detail: &str| reading.fault("modules", Some(line), detail);
            let name = columns.name.to_owned();
            if name == NONE {
                fault(
                    self,
                    "“none” stands for no module in the list of orders: choose another name",
                );
            }
            if name.contains('+') {
                fault(
                    self,
                    "a name with a + cannot be told from two names: write it without",
                );
            }
            let (cost, extra) = match columns.rest[..] {
                [cost] => (Some(cost), None),
                [cost, extra] => (Some(cost), Some(extra).filter(|extra| !extra.is_empty())),
                _ => {
                    fault(
                        self,
                        "write a name, its cost, and if known its extra cost as an add-on",
                    );
                    (None, None)
                }
            };
            let mut amount =
                |text| self.number("modules", Some(line), text, columns.point_or_comma);
            let module = ModuleByName {
                name,
                cost: cost.map_or(0.0, &mut amount),
                add_on_extra_cost: extra.map(amount),
            };
            // Even a module with a fault is kept: orders with it are none the worse.
            self.question.modules.push(module);
            self.lines.entry("modules").or_default().push(line);
        }
    }

    fn shared(&mut self, text: &str) {
        for (line, columns) in lines(text) {
            let [cost] = columns.rest[..] else {
                self.fault(
                    "shared",
                    Some(line),
                    "write the names with + between them, then the cost",
                );
                continue;
            };
            let part = SharedByName {
                needed_by: names(columns.name),
                cost: self.number("shared", Some(line), cost, columns.point_or_comma),
            };
            self.question.shared.push(part);
            self.lines.entry("shared").or_default().push(line);
        }
    }

    fn orders(&mut self, text: &str) {
        for (line, columns) in lines(text) {
            let [boats] = columns.rest[..] else {
                let detail = "write the names with + between them, or none, then boats a year";
                self.fault("orders", Some(line), detail);
                continue;
            };
            let order = OrderByName {
                modules: names(columns.name),
                boats_per_year: self.whole("orders", Some(line), boats).unwrap_or(0),
            };
            self.question.orders.push(order);
            self.lines.entry("orders").or_default().push(line);
        }
    }

    fn number(&mut self, field: &str, line: Option<usize>, text: &str, comma: bool) -> f64 {
        let plain = if comma {
            text.replace(',', ".")
        } else {
            text.to_owned()
        };
        let number = plain
            .parse::<f64>()
            .ok()
            .filter(|number| number.is_finite());
        if number.is_none() {
            let detail = match text {
                "" => "a cost is missing: write it as in 12.50, or 0".to_owned(),
                _ => format!("“{text}” is not a cost: write it as in 12.50"),
            };
            self.fault(field, line, &detail);
        }
        number.unwrap_or(0.0)
    }

    fn whole(&mut self, field: &str, line: Option<usize>, text: &str) -> Option<u32> {
        let number = text.parse().ok();
        if number.is_none() {
            self.fault(
                field,
                line,
                &format!("“{text}” is not a whole number of boats"),
            );
        }
        number
    }

    fn fault(&mut self, field: &str, line: Option<usize>, detail: &str) {
        let place = self.faults.len();
        let name = names_of_fields().find(|(known, _)| *known == field);
        let name = name.map_or(field, |(_, name)| name);
        let text = match line {
            Some(line) => format!("{name}, line {line}: {detail}"),
            None => format!("{name}: {detail}"),
        };
        self.faults.push(Placed {
            line: line.unwrap_or(0),
            place,
            fault: FieldFault {
                field: field.to_owned(),
                text,
            },
        });
    }

    /// Puts the faults of the question with the others, each at its field and line.
    pub(super) fn add(&mut self, faults: Vec<QuestionFault>) {
        for found in faults {
            let mut steps = found.pointer.split('/').skip(1);
            let list = steps.next().unwrap_or_default();
            let number = steps.next().and_then(|step| step.parse::<usize>().ok());
            let lines = self.lines.get(list);
            let line = lines
                .zip(number)
                .and_then(|(lines, number)| lines.get(number).copied());
            let field = if list.is_empty() { "orders" } else { list };
            let mut fault = Fault::new("", found.detail);
            // A name that is given stands in the words already.
            if found.given.is_number() {
                fault = fault.given(found.given);
            }
            fault.limit = found.limit;
            let text = fault.to_string();
            self.fault(field, line, text.trim_start_matches(':').trim_start());
        }
    }

    /// Whether anything is wrong.
    pub(super) fn is_faulty(&self) -> bool {
        !self.faults.is_empty()
    }

    /// The faults from the top of the form to its end.
    pub(super) fn faults(mut self) -> Vec<FieldFault> {
        let field =
            |fault: &Placed| names_of_fields().position(|(field, _)| field == fault.fault.field);
        self.faults
            .sort_by_key(|fault| (field(fault), fault.line, fault.place));
        self.faults.into_iter().map(|placed| placed.fault).collect()
    }
}

/// A fault with its line and the order in which it was found.
#[derive(Debug)]
struct Placed {
    line: usize,
    place: usize,
    fault: FieldFault,
}

/// Fields in the order of the form, with short names.
fn names_of_fields() -> impl Iterator<Item = (&'static str, &'static str)> {
    [
        ("modules", "Modules"),
        ("shared", "Shared"),
        ("orders", "Orders"),
        ("base_cost", "Cost of what every harness has"),
        ("part_number_cost_per_year", "One more part number"),
        ("boats_per_year", "Boats a year in all"),
    ]
    .into_iter()
}

/// A line: what stands before the first separator, and the rest.
struct Columns<'a> {
    name: &'a str,
    rest: Vec<&'a str>,
    /// Whether a comma in a number is a decimal comma: not where commas separate.
    point_or_comma: bool,
}

/// The lines that hold something, each with its number.
fn lines(text: &str) -> impl Iterator<Item = (usize, Columns<'_>)> {
    let numbered = (1..)
        .zip(text.lines())
        .filter(|(_, line)| !line.trim().is_empty());
    numbered.map(|(number, line)| {
        // A tab is what a spreadsheet puts between its cells.
        let separators = ['\t', ';', ','].into_iter();
        let separator = separators
            .into_iter()
            .find(|sign| line.contains(*sign))
            .unwrap_or(',');
        let mut columns = line.split(separator).map(str::trim);
        let columns = Columns {
            name: columns.next().unwrap_or_default(),
            rest: columns.collect(),
            point_or_comma: separator != ',',
        };
        (number, columns)
    })
}

fn names(text: &str) -> Vec<String> {
    if text == NONE {
        return Vec::new();
    }
    text.split('+').map(|name| name.trim().to_owned()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked(fields: &[(&str, &str)]) -> Reading {
        let fields = fields
            .iter()
            .map(|(name, text)| ((*name).to_owned(), (*text).to_owned()));
        read(&fields.collect())
    }

    #[test]
    fn lists_are_read_with_commas_semicolons_or_tabs() {
        let reading = asked(&[
            (
                "modules",
                "radar, 46.5, 24\r\n\r\nhorn; 18,25\nsecond bank\t1,5\t2\n",
            ),
            ("shared", "radar + horn, 28"),
            ("orders", "none, 12\nradar + second bank\t7\n"),
            ("part_number_cost_per_year", "1500,5"),
            ("boats_per_year", "19"),
        ]);
        assert!(!reading.is_faulty());
        let question = &reading.question;
        let modules: Vec<_> = question
            .modules
            .iter()
            .map(|module| (module.name.as_str(), module.cost, module.add_on_extra_cost))
            .collect();
        assert_eq!(
            modules,
            [
                ("radar", 46.5, Some(24.0)),
                ("horn", 18.25, None),
                ("second bank", 1.5, Some(2.0))
            ]
        );
        assert_eq!(question.shared[0].needed_by, ["radar", "horn"]);
        assert_eq!(question.orders[0].modules, [""; 0]);
        assert_eq!(question.orders[1].modules, ["radar", "second bank"]);
        assert_eq!(question.part_number_cost_per_year, 1_500.5);
        assert_eq!(question.boats_per_year, Some(19));
    }

    #[test]
    fn every_fault_stands_at_its_line() {
        let mut reading = asked(&[
            (
                "modules",
                "radar, 46\n\nradar, dear\nno cost\na+b, 3\nnone, 1",
            ),
            ("shared", "radar 28\nradar + horn, 2"),
            ("orders", "radar, 1.5\nradar + sonar, 3\nradar"),
            ("part_number_cost_per_year", ""),
            ("boats_per_year", "many"),
        ]);
        let found = reading.question.demand().unwrap_err();
        reading.add(found);
        let begins: Vec<(String, String)> = reading
            .faults()
            .into_iter()
            .map(|fault| (fault.field, fault.text.chars().take(24).collect()))
            .collect();
        let expected = [
            ("modules", "Modules, line 3: “dear” "),
            ("modules", "Modules, line 3: radar i"),
            ("modules", "Modules, line 4: write a"),
            ("modules", "Modules, line 5: a name "),
            ("modules", "Modules, line 6: “none” "),
            ("shared", "Shared, line 1: write th"),
            ("shared", "Shared, line 2: \"horn\" i"),
            ("orders", "Orders, line 1: “1.5” is"),
            ("orders", "Orders, line 2: \"sonar\" "),
            ("orders", "Orders, line 3: write th"),
            ("part_number_cost_per_year", "One more part number: a "),
            ("boats_per_year", "Boats a year in all: “ma"),
        ];
        let expected = expected.map(|(field, text)| (field.to_owned(), text.to_owned()));
        assert_eq!(begins, expected);
    }
}
