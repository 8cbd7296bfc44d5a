//! Straight line with errors in both coordinates (York 2004).
