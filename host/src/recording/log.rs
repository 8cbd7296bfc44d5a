//! The append-only log of received bytes.
