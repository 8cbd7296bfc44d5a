//! Cross-crate tests of tipcurve: what they share.

pub mod check_file;
pub mod scratch;
pub mod wire_log;
