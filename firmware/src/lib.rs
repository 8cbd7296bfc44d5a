//! Portable core of the tipcurve logger: sensor readings and edges in, frames out.
//!
//! The same code runs on every board, in the emulator and inside the simulated rig. It has no
//! clock, loop, interrupt or pin of its own: whoever drives [`App`] brings the device ticks
//! (microseconds since the start, 64 bits) and calls
//!
//! - [`App::on_sample_tick`] at each tick of the sample timer, every [`App::period_ticks`];
//! - [`App::on_edge`], [`App::on_button`], [`App::on_rx_byte`] when these happen;
//! - [`App::poll`] and [`App::poll_send`] as often as convenient, at least fifty times a second.
//!
//! Nothing here allocates, waits or panics. What does not fit is dropped and counted, and the
//! counts travel in the heartbeat.
//!
//! # Example
//!
//! Two seconds of a device in virtual time, its bytes kept in a vector:
//!
//! ```
//! use tipcurve_firmware::{App, Config, PressureSensor, SensorError, SlowSensors};
//! use tipcurve_protocol::{Event, Message, Quantity, Reader};
//!
//! /// A tap at rest, and nothing fitted but the supply voltage.
//! struct Bench;
//!
//! impl PressureSensor for Bench {
//!     fn read_code(&mut self) -> Result<i32, SensorError> {
//!         Ok(1_234)
//!     }
//! }
//!
//! impl SlowSensors for Bench {
//!     fn read_code(&mut self, quantity: Quantity) -> Result<i32, SensorError> {
//!         match quantity {
//!             Quantity::SupplyVoltage => Ok(18_200),
//!             _ => Err(SensorError::Absent),
//!         }
//!     }
//! }
//!
//! fn send(app: &mut App, now: u64, line: &mut Vec<u8>) {
//!     loop {
//!         let bytes = app.next_bytes(now);
//!         if bytes.is_empty() {
//!             break;
//!         }
//!         line.extend_from_slice(bytes);
//!         let sent = bytes.len();
//!         app.sent(sent);
//!     }
//! }
//!
//! let mut app = App::new(Config::default());
//! let mut line = Vec::new();
//! let mut next_sample_ticks = 0;
//! for now in (0..2_000_000).step_by(1_000) {
//!     if now >= next_sample_ticks {
//!         app.on_sample_tick(now, &mut Bench);
//!         next_sample_ticks += u64::from(app.period_ticks());
//!     }
//!     if now % 50_000 == 25_000 {
//!         app.on_edge(now);
//!     }
//!     app.poll(now, &mut Bench);
//!     send(&mut app, now, &mut line);
//! }
//! app.flush();
//! send(&mut app, 2_000_000, &mut line);
//!
//! let (mut n_samples, mut n_edges) = (0, 0);
//! let mut reader = Reader::new();
//! let mut input = line.as_slice();
//! while let Some(event) = reader.next(&mut input) {
//!     match event {
//!         Event::Message(Message::Samples(samples)) => n_samples += samples.block.len(),
//!         Event::Message(Message::Edges(edges)) => n_edges += edges.len(),
//!         _ => {}
//!     }
//! }
//! assert_eq!((n_samples, n_edges), (1_000, 40));
//! ```
#![no_std]

mod app;
mod commands;
mod edges;
pub mod limits;
mod queue;
mod sampler;
mod sender;
mod sensor;
mod slow;

pub use app::{App, Config};
pub use sensor::{PressureSensor, SensorError, SlowSensors};
