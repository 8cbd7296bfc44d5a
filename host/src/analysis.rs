//! From readings to a verdict: pure functions, slices and structs in, values out.
//!
//! No file, port, clock, environment, printing, thread or data frame anywhere below this module;
//! randomness only from a seed in the arguments. The order in which the steps run stands in
//! [`crate::pipeline`]; each step can also be called alone.

pub mod align;
pub mod answer;
pub mod burst;
pub mod calibration;
pub mod change;
pub mod class;
pub mod clearing;
pub mod clock;
pub mod compare;
pub mod convert;
pub mod dew_point;
pub mod energy;
pub mod extent;
pub mod film;
pub mod fit;
pub mod group;
pub mod health;
pub mod nozzle_curve;
pub mod plan;
pub mod ripple;
pub mod season;
pub mod signal;
pub mod similarity;
pub mod sliding;
pub mod steady;
pub mod supply_curve;
pub mod tail_threshold;
pub mod temperature;
pub mod thresholds;
pub mod tip_code;
pub mod verdict;
pub mod wear;
pub mod window;
