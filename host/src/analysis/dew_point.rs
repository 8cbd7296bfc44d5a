//! Dew point and condensation margin.
