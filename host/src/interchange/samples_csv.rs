//! `samples.csv`, what the sensors saw: reading and writing.
//!
//! The recording folder keeps imported files as they were, so reading and writing them lives with the folder
//! ([`crate::recording::samples`]) and is only named here.

pub use crate::recording::samples::{COLUMNS, read, write};
