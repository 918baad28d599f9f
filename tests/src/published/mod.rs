//! Published values against the values of this service.
//!
//! `facts/*.csv` holds what others have printed, each row with its source; every row is computed
//! again by `harness-core`. Where the two differ by more than half a unit of the last printed
//! digit, `facts/explained.csv` says why, one row at a time.
//!
//! The result is `server/verification/published.json`, a [`Report`], from which the Verification
//! page is made:
//!
//! ```text
//! { "reproduce": "the command that rewrites this file",
//!   "counts": { "compared", "within", "explained", "not_evaluated", "open", "sources", "kinds" },
//!   "not_verified": [ { "what", "why" } ],
//!   "kinds": [ { "kind", "title", "cases", "within", "explained", "not_evaluated", "open",
//!                "sources", "largest_relative_difference", "fewest_digits" } ],
//!   "records": [ { "id", "kind", "question", "inputs", "source_title", "source_place",
//!                  "source_url", "reference_kind", "published", "unit", "printed_precision",
//!                  "ours", "difference", "relative_difference", "digits", "tolerance",
//!                  "tolerance_why", "verdict", "cause", "explanation", "decided_by", "since",
//!                  "remark", "test" } ] }
//! ```
//!
//! `verdict` is `within`, `explained`, `not evaluated` or `open`; the last must not occur.

mod fact;
mod explained;
mod evaluate;
mod compare;
mod report;

pub use explained::{CAUSES, Explained};
pub use fact::{Fact, Published, PublishedSource};
pub use report::{Counts, KindSummary, NotVerified, Record, Report, Verdict, report};
