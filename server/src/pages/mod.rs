//! What the templates are filled with: one file for the pages of a task. No computing here; a
//! page holds words and numbers ready to be shown.

mod frame;
mod parts;
mod reach;
mod drawing;
mod findings;
mod models;
mod overview;
mod failing;
mod circuits;
mod clears;
mod circuit;
mod sizes;
mod zones;
mod ordering;
mod options;
mod option;
mod boats;
mod sheets;
mod rules;
mod one_circuit;
mod harness_contents;
mod verification;
mod search;
mod error;

pub use boats::{AskedBoats, BoatsPage};
pub use circuit::{Asked as AskedOfCircuit, CircuitPage};
pub use circuits::CircuitsPage;
pub use clears::{AskedLimit, ClearsPage};
pub use error::ErrorPage;
pub use failing::{FailingPage, Filter};
pub use findings::{Bar, Linked};
pub use frame::{Crumb, Frame, InView, Link, first_page};
pub use harness_contents::HarnessContentsPage;
pub use models::{DeletePage, ModelFormPage, ModelRow, ModelsPage, RevisionsPage};
pub use one_circuit::OneCircuitPage;
pub use option::{OptionPage, Side};
pub use options::OptionsPage;
pub use overview::{GapsPage, OverviewPage, grouped};
pub use parts::{FieldFault, Outcome, date};
pub use rules::{RulePage, RulesPage};
pub use search::{Found, SearchPage};
pub use sheets::{Covered, SheetPage, SheetsPage};
pub use sizes::SizesPage;
pub use verification::VerificationPage;
pub use zones::{RunPage, ZonePage, ZonesPage};
