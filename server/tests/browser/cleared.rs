//! What axe-core cannot decide, looked at by hand.

/// One kind of undecided result.
#[derive(Debug)]
pub struct Cleared {
    /// The rule.
    pub rule: &'static str,
    /// Stands in the element.
    pub html: &'static str,
    /// Stands in what axe-core says.
    pub says: &'static str,
    /// Why it is no fault.
    #[expect(dead_code, reason = "for whoever reads or extends the list")]
    pub because: &'static str,
}

/// Everything not listed here fails the test.
pub const CLEARED: &[Cleared] = &[];
