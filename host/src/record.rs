//! From a byte stream to a recording folder. Never analyses, never draws.
