//! Cross-crate tests of tipcurve: what they share.

pub mod board_feed;
pub mod check_file;
pub mod corruption;
pub mod disk;
pub mod emulator;
pub mod fuzz;
pub mod log_model;
pub mod long_log;
pub mod score;
pub mod score_table;
#[path = "../../host/src/scratch.rs"]
pub mod scratch;
pub mod sheet;
pub mod soak;
pub mod trials;
pub mod truth;
pub mod wire_log;
