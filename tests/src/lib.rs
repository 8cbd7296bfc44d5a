//! Cross-crate tests of tipcurve: what they share.

pub mod check_file;
pub mod score;
pub mod truth;
pub mod board_feed;
