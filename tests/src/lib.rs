//! Cross-crate tests of tipcurve: what they share.

pub mod check_file;
