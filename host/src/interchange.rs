//! The plain-text interchange in and out: all or nothing, faults with line and column.
