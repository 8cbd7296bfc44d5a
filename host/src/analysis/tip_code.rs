//! What a tip code says by common practice.
