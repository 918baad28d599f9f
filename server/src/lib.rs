//! The web service around `harness-core`.
