//! Wire format of the tipcurve logger: what both ends of the serial line agree on.
//!
//! Bytes arrive in any portions; [`Reader`] turns them into [`Event`]s. A [`Message`]
//! becomes bytes with [`frame::encode`]. Everything works without an allocator and
//! without an operating system, and nothing here knows what a reading means: there are
//! raw codes, device ticks (1 MHz), counts, and the scale that the device declares for
//! each channel in its [`Hello`].
//!
//! The bytes themselves are specified in `WIRE.md`.
//!
//! # Example
//!
//! A block of pressure codes is compressed, framed, sent with noise in front of it, and
//! read back in two portions:
//!
//! ```
//! use tipcurve_protocol::{Block, Event, Message, Reader, Samples, delta, frame};
//!
//! let codes = [9_000, 9_003, 9_001, 8_998, 9_002];
//! let mut planes = [0; delta::MAX_PLANE_BYTES];
//! let samples = Samples {
//!     first_sample: 1_000,
//!     base_ticks: 2_000_000,
//!     period_ticks: 2_000,
//!     block: Block::encode(&codes, &mut planes)?,
//! };
//! let mut buffer = [0; frame::MAX_FRAME_BYTES];
//! let bytes = frame::encode(&Message::Samples(samples), &mut buffer)?;
//!
//! let mut line = b"login:\0".to_vec();
//! line.extend_from_slice(bytes);
//! let (early, late) = line.split_at(12);
//!
//! let mut reader = Reader::new();
//! let mut damaged = 0;
//! let mut received = Vec::new();
//! for mut portion in [early, late] {
//!     while let Some(event) = reader.next(&mut portion) {
//!         match event {
//!             Event::Message(Message::Samples(samples)) => {
//!                 received.resize(samples.block.len(), 0);
//!                 samples.block.decode(&mut received)?;
//!             }
//!             Event::Damaged(_) => damaged += 1,
//!             other => panic!("unexpected {other:?}"),
//!         }
//!     }
//! }
//! assert_eq!(received, codes);
//! assert_eq!(damaged, 1, "the foreign bytes were reported once");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
#![no_std]

pub mod delta;
pub mod frame;
pub mod message;
pub mod reader;
pub mod sequence;
mod stuffing;
pub mod ticks;
pub mod version;

pub use delta::{Block, BlockError};
pub use frame::{EncodeError, Fault};
pub use message::{
    Action, Channel, ClockEcho, Command, Edges, Health, Hello, Kind, Mark, Message, Outcome,
    Quantity, Reply, ResetReason, Samples, Slow,
};
pub use reader::{Damage, Event, Reader};
pub use sequence::{Continuity, Gap, Tracker};
pub use version::{Answer, Refusal, Version, WIRE_VERSION};
