//! `tipcurve`: from a log of pressure and flow, and a person's notes, to a verdict.
//!
//! The parts, each pointing only downwards: [`recording`] is the folder on disk, [`interchange`]
//! the plain-text way in and out, [`analysis`] the pure computation, [`pipeline`] its order,
//! [`findings`] its result, [`report`] what a person sees, [`live`] the bench page, [`record`] the
//! port, [`simulate`] the rig that is not there.

pub mod analysis;
pub mod calibrate;
pub mod class_findings;
pub mod cli;
pub mod energy_findings;
pub mod estimate;
pub mod findings;
pub mod interchange;
pub mod live;
pub mod pipeline;
mod processors;
pub mod record;
pub mod recording;
pub mod report;
// One file for the unit tests here, the program's tests and the cross-crate tests.
#[cfg(test)]
#[allow(dead_code, unreachable_pub, reason = "each of them uses another part")]
mod scratch;
pub mod simulate;
pub mod table;
pub mod units;
