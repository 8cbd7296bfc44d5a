//! From a byte stream to a recording folder. Never analyses, never draws, never knows the page.
//!
//! [`address`] says where bytes may come from, [`port`] opens serial ports, [`source`] any stream.
//! [`probe`] finds the only logger by its hello, [`link`] keeps it and finds it again by its device
//! id, on a thread that does nothing else. The [`recorder`] writes every byte as it came, through a
//! [`spool`] that holds what a full disk refuses, counts with a [`tally`], and tells its
//! [`status`]; whoever wants to watch gets bytes and status handed over and can delay nothing.

pub mod address;
pub mod host_clock;
pub mod link;
pub mod port;
pub mod probe;
pub mod recorder;
pub mod source;
pub mod spool;
pub mod status;
pub mod tally;
