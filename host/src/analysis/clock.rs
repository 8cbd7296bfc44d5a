//! Logger time against host time by the lower envelope of arrivals.
