//! Film build, coverage and stripe height.
