//! Codes and edges to quantities through a calibration. No smoothing.
