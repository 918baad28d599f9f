//! Entry point of the service.
fn main() {}
