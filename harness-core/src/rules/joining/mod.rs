//! Connectors, studs, splices and ends.

mod occurrence;
mod cavity_ends;
mod cavity_used_twice;
mod cavity_undecided;
mod too_many_terminals_on_stud;
mod terminal_does_not_fit;
mod tail_without_end_treatment;

pub use cavity_undecided::CAVITY_UNDECIDED;
pub use cavity_used_twice::CAVITY_USED_TWICE;
pub use tail_without_end_treatment::TAIL_WITHOUT_END_TREATMENT;
pub use terminal_does_not_fit::TERMINAL_DOES_NOT_FIT;
pub(crate) use terminal_does_not_fit::misfits_in_cavities;
pub use too_many_terminals_on_stud::TOO_MANY_TERMINALS_ON_STUD;
