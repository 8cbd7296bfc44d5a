//! Timed catches and zeros to K-factor, zero and span, with their budget.
