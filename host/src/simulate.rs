//! The rig that is not there: physics of its own, the firmware's own sampling code.
//!
//! Nothing here may name the analysis, and the physics shares no formula with it: if they agreed by
//! construction, their agreement would prove nothing. The layers, each built on those before:
//!
//! - physics of one part each: [`liquid`], [`orifice`], [`hose`], [`fluid_path`], [`fan`], [`battery`],
//!   [`pump`], [`control`], [`restriction`], and their play in time, [`rig`], or settled, [`steady`];
//! - what is done, [`scenario`], and what then truly happened, [`performance`] with its [`trace`];
//! - what sensors make of it, [`transducer`] and [`meter`], logged by the firmware's core, [`device`], or
//!   by somebody else's box, [`rows`]; what a person writes, [`notebook`] and [`session`];
//! - the [`truth`] of it, worked out in [`answer`], and all of it together, [`record`].
//!
//! ```
//! use tipcurve::simulate::{scenario, to_recording};
//!
//! let scenario = scenario::trial(scenario::TrialKind::HealthyWindow, 7);
//! let (recording, truth) = to_recording(&scenario);
//! assert!(recording.is_simulated);
//! assert_eq!(truth.label, "healthy_window");
//! ```

pub mod answer;
pub mod battery;
pub mod control;
pub mod device;
pub mod fan;
pub mod fluid_path;
pub mod hose;
pub mod index;
pub mod liquid;
pub mod meter;
pub mod notebook;
pub mod orifice;
pub mod performance;
pub mod pump;
pub mod random;
pub mod record;
pub mod restriction;
pub mod rig;
pub mod rows;
pub mod scenario;
pub mod session;
pub mod steady;
pub mod trace;
pub mod transducer;
pub mod truth;

pub use record::{run, to_recording, to_recording_with_all};
