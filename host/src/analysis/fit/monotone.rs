//! Monotone least squares (pool adjacent violators).
