//! Host side of tipcurve.
