//! Drawings on pages: SVG made from a study, with links, words for readers who do not see it, and
//! no style of its own (the style sheet gives colors, so that paper and dark ground both work).

mod svg;
mod plan;
mod places;
mod path;
mod plot;
mod cost_curve;
mod bars;

pub use bars::{Bar, bars};
pub use cost_curve::{CostCurve, CostPoint, cost_curve};
pub use path::{Element, path};
pub use places::{Chosen, Links, Place, Places, holds, zones_at};
pub use plan::{Lit, Plan, plan};
pub use plot::{Curve, Plot, plot};
