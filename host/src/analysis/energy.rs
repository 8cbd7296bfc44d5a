//! Hydraulic and electric power, efficiency, run time.
