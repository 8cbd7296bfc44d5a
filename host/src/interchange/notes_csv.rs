//! `notes.csv`, what the person saw: reading and writing (it lives with the folder, in [`crate::recording::notes`]).

pub use crate::recording::notes::{COLUMNS, read, write};
