//! The emulated board's sensors: a recorded feed, read line by line and replayed in device time.
//!
//! Nothing here knows the machine; it runs in ordinary tests on the host. `main.rs` adds the two
//! serial ports and the clock tick. `FEED.md` describes the lines.
#![no_std]

pub mod feed;
pub mod line;
pub mod replay;
