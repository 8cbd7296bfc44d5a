//! Cross-crate tests of tipcurve: what they share.

pub mod board_feed;
pub mod check_file;
pub mod long_log;
pub mod score;
pub mod score_table;
pub mod scratch;
pub mod truth;
pub mod wire_log;
