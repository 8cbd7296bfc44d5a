//! The bench page: reads snapshots, cannot delay the recorder.
//!
//! The recorder hands each chunk of received bytes to a [`tap`], a bounded channel that never
//! waits: when the page is slower than the line, chunks are dropped for the viewers and counted,
//! and the log has them all the same. A [`bench`] decodes what arrives, keeps the last minutes as a
//! [`trace`] and tells [`trigger`] state; `points` turns each burst that ends into a point, a
//! curve and a window with the analysis of the report. What a viewer sees is a [`snapshot`], SI
//! inside; the [`hub`] hands it out, the `server` speaks HTTP, [`access`] decides who may read
//! and write, `desk` is what a button may do, `calibrating` takes a calibration. `wall` shows several benches side by side.
//!
//! Absent on purpose: nothing here writes to the log, and nothing fetches anything from outside.

pub mod access;
pub mod assets;
pub mod bench;
pub mod calibrating;
pub mod desk;
pub mod feed;
pub mod hub;
pub mod meter;
pub mod notebook;
pub mod pairing;
pub mod phrase;
pub mod points;
pub mod readings;
pub mod routes;
pub mod server;
pub mod snapshot;
pub mod tap;
pub mod trace;
pub mod trigger;
pub mod wall;
