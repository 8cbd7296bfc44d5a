//! Viscosity against temperature and flow-cup seconds.
