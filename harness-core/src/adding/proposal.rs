//! What is proposed: a whole model, and why each thing in it is as it is.

use crate::file_format::ModelRecord;

/// Another answer to a question.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Alternative {
    /// The answer as a field of the ask takes it.
    pub value: String,
    /// The answer with its numbers.
    pub words: String,
}

/// One decision of a proposal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Choice {
    /// Field of the ask with which another answer is given; `None` where it follows from others.
    pub field: Option<&'static str>,
    /// What was decided.
    pub question: &'static str,
    /// The answer as the field takes it.
    pub chosen: String,
    /// The answer in words.
    pub words: String,
    /// Why, in a sentence with numbers.
    pub reason: String,
    /// Other answers, the chosen one left out.
    pub alternatives: Vec<Alternative>,
}

impl Choice {
    pub(super) fn told(
        question: &'static str,
        words: impl Into<String>,
        reason: impl Into<String>,
    ) -> Self {
        let words = words.into();
        Self {
            field: None,
            question,
            chosen: words.clone(),
            words,
            reason: reason.into(),
            alternatives: Vec::new(),
        }
    }

    pub(super) fn by(mut self, field: &'static str, value: impl Into<String>) -> Self {
        self.field = Some(field);
        self.chosen = value.into();
        self
    }

    pub(super) fn or(mut self, alternatives: Vec<Alternative>) -> Self {
        self.alternatives = alternatives;
        self
    }
}

/// A model with the component, and how it came about.
#[derive(Clone, Debug, PartialEq)]
pub struct Proposal {
    /// The whole model, ready to be written.
    pub record: ModelRecord,
    /// Code of the new option.
    pub option: String,
    /// Short name of the new load.
    pub load: String,
    /// Number of the new circuit.
    pub circuit: String,
    /// Each decision.
    pub choices: Vec<Choice>,
    /// What the reader must know before accepting: limits that fail on some boat with it and did
    /// not before, and what could not be proposed.
    pub cautions: Vec<String>,
}
