//! The page's side of a calibration: readings taken at the operator's word, and the file at the end.
//!
//! The measuring and the arithmetic are here and in `calibrate`; the page only carries numbers from
//! one request to the next. Nothing in a recording changes by it.

mod words;

use std::path::PathBuf;
use std::sync::Arc;

use serde::Serialize;

pub use words::say;

use super::phrase::Phrase;
use super::readings::Readings;
use crate::calibrate::CalibrateError;
use crate::calibrate::entries::Entries;
use crate::calibrate::file::{self, Moment};
use crate::calibrate::result::compute;

/// Where a calibration of a running recording comes from and goes to.
#[derive(Debug)]
pub struct CalibrationDesk {
    /// What the sensors show now.
    pub readings: Arc<Readings>,
    /// Folder for the file.
    pub folder: PathBuf,
    /// Full scale of the pressure sensor.
    pub full_scale_pa: Option<f64>,
    /// Offset of local time from UTC, s.
    pub utc_offset_s: f64,
}

/// What was written, for the person.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Written {
    /// Name of the file.
    pub file: String,
    /// Result, uncertainty and how to use it.
    pub words: Vec<Phrase>,
}

impl CalibrationDesk {
    /// Computes a calibration and writes it.
    ///
    /// # Errors
    /// [`CalibrateError`].
    pub fn write(
        &self,
        entries: &Entries,
        device_id: Option<u64>,
        unix_s: f64,
    ) -> Result<Written, CalibrateError> {
        let calibration = compute(entries, self.full_scale_pa)?;
        let moment = Moment {
            unix_s,
            utc_offset_s: self.utc_offset_s,
        };
        let path = file::write(&calibration, device_id, moment, &self.folder)?;
        let name = crate::recording::folder::file_name(&path);
        let mut words = say(&calibration);
        words.push(Phrase::text(format!(
            "Written to {name} in the recording's folder. To use it, copy its lines into session.toml, or \
             begin the next recording with tipcurve new --calibration; earlier calibrations are kept."
        )));
        Ok(Written { file: name, words })
    }
}
