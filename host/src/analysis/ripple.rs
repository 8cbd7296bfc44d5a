//! Ripple frequency and means of dependent samples. No bursts.
