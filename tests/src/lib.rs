//! Cross-crate tests of tipcurve: what they share.
