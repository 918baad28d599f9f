//! The saved JSON form of a boat model, version 1.
//!
//! [`read`] gives a whole model or every fault of the text with its place; nothing is ever half
//! loaded. [`write`] gives the same bytes for the same model. [`json_schema`] is the published
//! schema, made from the declarations that the reader uses.

pub mod form;
pub mod records;
