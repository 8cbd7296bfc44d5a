//! Power law by errors-in-variables on logarithms.
