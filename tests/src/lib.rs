//! Cross-crate tests of tipcurve: what they share.

pub mod board_feed;
