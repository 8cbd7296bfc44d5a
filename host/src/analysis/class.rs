//! Many benches and students: variance components, z-scores (ISO 5725 terms).
