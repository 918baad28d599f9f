//! The question of the page of boats, read from an address.

use std::collections::BTreeMap;

use harness_core::model::OptionIndex;
use harness_core::orders::Question;

use super::super::ordering::OptionLink;
use crate::error::Fault;
use crate::orders::Orders;

/// Start of the names of the fields of the form: one a option.
const FIELD: &str = "o.";

/// A question in the words of an address, and what is wrong with it.
#[derive(Clone, Debug, Default)]
pub struct AskedBoats {
    pub(super) question: Question,
    /// What is wrong.
    pub faults: Vec<Fault>,
    /// Codes that no option has, with the field that names them.
    unknown: Vec<(String, String)>,
    /// The form sent it: every option has a field of its own.
    pub came_from_form: bool,
}

impl AskedBoats {
    /// Reads a query. `with` and `without` list codes, with commas or one a field; the form has a
    /// field for each option.
    pub fn of(orders: &Orders, query: &[(String, String)]) -> Self {
        let mut asked = Self::default();
        let mut wanted: BTreeMap<OptionIndex, bool> = BTreeMap::new();
        for (field, value) in query {
            let (codes, is_on): (Vec<&str>, bool) = match (field.as_str(), value.as_str()) {
                ("with", list) => (list.split(',').collect(), true),
                ("without", list) => (list.split(',').collect(), false),
                (field, choice) => {
                    let Some(code) = field.strip_prefix(FIELD) else {
                        continue;
                    };
                    asked.came_from_form = true;
                    match choice {
                        "with" => (vec![code], true),
                        "without" => (vec![code], false),
                        "" | "any" => (Vec::new(), true),
                        other => {
                            let fault = Fault::new(field, format!("choose one for {code}"));
                            asked
                                .faults
                                .push(fault.given(other).limit("any, with or without"));
                            continue;
                        }
                    }
                }
            };
            let codes = codes.into_iter().map(str::trim).filter(|c| !c.is_empty());
            for code in codes {
                asked.wish(orders, &mut wanted, (field, code, is_on));
            }
        }
        asked.tell_unknown(orders);
        let those = |on: bool| {
            let chosen = wanted.iter().filter(move |(_, is_on)| **is_on == on);
            chosen.map(|(option, _)| *option).collect()
        };
        asked.question = Question {
            on: those(true),
            off: those(false),
        };
        asked
    }

    fn wish(
        &mut self,
        orders: &Orders,
        wanted: &mut BTreeMap<OptionIndex, bool>,
        (field, code, is_on): (&str, &str, bool),
    ) {
        let Some(found) = orders.model.options.find(code) else {
            self.unknown.push((field.to_owned(), code.to_owned()));
            return;
        };
        let before = wanted.insert(OptionIndex(found.number()), is_on);
        if before.is_some_and(|before| before != is_on) {
            let detail = format!("take one of them: {code} is asked both with and without");
            self.faults.push(Fault::new(field, detail));
        }
    }

    /// Codes that no option has, in one fault: the list of those there are is long.
    fn tell_unknown(&mut self, orders: &Orders) {
        let Some((field, _)) = self.unknown.first() else {
            return;
        };
        let given: Vec<&str> = self.unknown.iter().map(|(_, code)| code.as_str()).collect();
        let known = match orders.codes.is_empty() {
            true => "none is stated".to_owned(),
            false => orders.codes.join(", "),
        };
        let fault = Fault::new(field, "this boat model has no such option");
        self.faults.push(fault.given(given.join(", ")).limit(known));
    }

    /// The address of the same question that names only what is asked.
    pub fn address(&self, orders: &Orders) -> String {
        question_href(orders, &self.question)
    }
}

/// The address of a question.
pub(super) fn question_href(orders: &Orders, question: &Question) -> String {
    let codes = |options: &[OptionIndex]| {
        let codes: Vec<&str> = options.iter().map(|o| orders.codes[o.0].as_str()).collect();
        codes.join(",")
    };
    let (with, without) = (codes(&question.on), codes(&question.off));
    orders
        .addresses
        .with(&["boats"], &[("with", &with), ("without", &without)])
}

/// One option in the form.
#[derive(Clone, Debug)]
pub struct FormRow {
    pub(super) option: OptionLink,
    pub(super) field: String,
    pub(super) chosen: &'static str,
}

/// Every option of the model, with what is asked of it.
pub(super) fn form_rows(orders: &Orders, question: &Question) -> Vec<FormRow> {
    (0..orders.codes.len())
        .map(|at| {
            let option = OptionIndex(at);
            FormRow {
                option: OptionLink::of(orders, option),
                field: format!("{FIELD}{}", orders.codes[at]),
                chosen: if question.on.contains(&option) {
                    "with"
                } else if question.off.contains(&option) {
                    "without"
                } else {
                    "any"
                },
            }
        })
        .collect()
}
