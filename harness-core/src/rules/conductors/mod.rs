//! Sizes and colors of wires.

mod conductor_below_smallest_permitted;
mod return_smaller_than_feed;
mod wrong_color_for_function;

pub use conductor_below_smallest_permitted::CONDUCTOR_BELOW_SMALLEST_PERMITTED;
pub(crate) use conductor_below_smallest_permitted::hangs_on_current;
pub use return_smaller_than_feed::RETURN_SMALLER_THAN_FEED;
pub(crate) use return_smaller_than_feed::{counts_in_sum, most_together};
pub use wrong_color_for_function::WRONG_COLOR_FOR_FUNCTION;
pub(crate) use wrong_color_for_function::{hangs_on_returns, has_yellow_return};
