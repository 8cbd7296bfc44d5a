//! Two days: which curve moved, by how much, and is it more than the uncertainty.
