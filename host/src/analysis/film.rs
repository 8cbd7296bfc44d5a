//! Film build, coverage, litres and time for an area.
//!
//! Wet film from flow, transfer efficiency, hand speed, fan width and overlap; dry film from volume
//! solids, corrected for thinner. [`stripe`] lays passes over each other and shows how even they are;
//! [`sag`] says how thick a film holds on a wall. In go estimates in SI, out come estimates; no
//! recording here. Mass is conserved by construction, and the tests check that it is.

pub mod sag;
pub mod stripe;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::estimate::Estimate;
use crate::estimate::propagate::propagate;

/// Transfer efficiency of airless spraying on a flat wall where none was measured: rectangular from
/// 0.55 to 0.85 (common practice, no source).
pub const TRANSFER_UNKNOWN: Estimate = Estimate::new(0.7, 0.0, 0.087);
/// Largest overlap: at 0.9 every place is passed ten times.
const OVERLAP_MAX: f64 = 0.9;

/// Why there is no film.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum FilmError {
    /// A number that must be finite and above zero is not.
    #[error("{what} is {value}; it must be a finite number above zero")]
    NotPositive {
        /// Which number.
        what: &'static str,
        /// The number.
        value: f64,
    },
    /// A share is not above 0 and at most 1.
    #[error("{what} is {value}; it must be above 0 and at most 1")]
    NotAShare {
        /// Which number.
        what: &'static str,
        /// The number.
        value: f64,
    },
    /// Thinner is negative or more than coating.
    #[error("thinner is {ratio} by volume of coating; it must lie between 0 and 1")]
    Thinner {
        /// As given.
        ratio: f64,
    },
    /// Overlap is negative or above nine tenths.
    #[error("overlap is {ratio}; it must lie between 0 and 0.9")]
    Overlap {
        /// As given.
        ratio: f64,
    },
    /// A fan profile cannot be used.
    #[error("fan profile: {what}")]
    Profile {
        /// What is wrong with it.
        what: &'static str,
    },
}

/// How a pass is made.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Pass {
    /// Volume flow of the mixed coating, m3/s.
    pub flow_m3_per_s: Estimate,
    /// Share of it that reaches the surface; [`TRANSFER_UNKNOWN`] where it was not measured.
    pub transfer_ratio: Estimate,
    /// Speed of the hand, m/s.
    pub hand_speed_m_per_s: Estimate,
    /// Fan width on the surface, m.
    pub fan_width_m: Estimate,
    /// Share of the fan width that two neighbouring passes share, 0 to 0.9.
    pub overlap_ratio: f64,
}

impl Pass {
    /// Mean wet film of one coat, m: `q TE / (v W (1 - overlap))`.
    ///
    /// *Errors*: a flow, speed or width that is not above zero, a transfer efficiency outside 0 to 1, an
    /// overlap outside 0 to 0.9.
    ///
    /// *Source*: conservation of volume.
    pub fn wet_film_m(&self) -> Result<Estimate, FilmError> {
        let open = 1.0 - self.check()?;
        let inputs = [
            self.flow_m3_per_s,
            self.transfer_ratio,
            self.hand_speed_m_per_s,
            self.fan_width_m,
        ];
        propagate(&inputs, |[q, te, v, w]| q * te / (v * w * open)).ok_or(FilmError::NotPositive {
            what: "wet film",
            value: f64::NAN,
        })
    }

    /// Hand speed that lays a wanted wet film (m), m/s; the pass's own speed is not used.
    ///
    /// *Errors*: as [`Pass::wet_film_m`]; a wanted film that is not above zero.
    pub fn hand_speed_for(&self, wet_film_m: f64) -> Result<Estimate, FilmError> {
        let wanted = positive("wanted wet film", Estimate::exact(wet_film_m))?.value;
        let open = 1.0 - self.check()?;
        let inputs = [self.flow_m3_per_s, self.transfer_ratio, self.fan_width_m];
        propagate(&inputs, |[q, te, w]| q * te / (wanted * w * open)).ok_or(
            FilmError::NotPositive {
                what: "hand speed",
                value: f64::NAN,
            },
        )
    }

    /// Area coated a second, m2/s.
    ///
    /// *Errors*: as [`Pass::wet_film_m`].
    pub fn area_rate_m2_per_s(&self) -> Result<Estimate, FilmError> {
        let open = 1.0 - self.check()?;
        let inputs = [self.hand_speed_m_per_s, self.fan_width_m];
        propagate(&inputs, |[v, w]| v * w * open).ok_or(FilmError::NotPositive {
            what: "area rate",
            value: f64::NAN,
        })
    }

    /// The checked overlap.
    fn check(&self) -> Result<f64, FilmError> {
        positive("flow", self.flow_m3_per_s)?;
        positive("hand speed", self.hand_speed_m_per_s)?;
        positive("fan width", self.fan_width_m)?;
        share("transfer efficiency", self.transfer_ratio.value)?;
        check_overlap(self.overlap_ratio)
    }
}

/// Fan width on the surface at another distance, m: the fan opens in proportion to the distance.
///
/// *Errors*: a width or distance that is not above zero.
///
/// *Source*: similar triangles; holds while the fan keeps its angle.
pub fn fan_width_at(
    reference_width_m: Estimate,
    reference_distance_m: f64,
    distance_m: Estimate,
) -> Result<Estimate, FilmError> {
    positive("fan width", reference_width_m)?;
    positive("reference distance", Estimate::exact(reference_distance_m))?;
    positive("distance", distance_m)?;
    let width = |[w, d]: &[f64; 2]| w * d / reference_distance_m;
    propagate(&[reference_width_m, distance_m], width).ok_or(FilmError::NotPositive {
        what: "fan width",
        value: f64::NAN,
    })
}

/// Volume solids of the mixed coating, 0 to 1: solids of the coating over one plus thinner.
///
/// *Errors*: solids that are not above 0 and at most 1, thinner outside 0 to 1.
///
/// *Source*: thinner carries no solids; volumes taken as additive.
pub fn mixed_solids_ratio(volume_solids_ratio: f64, thinner_ratio: f64) -> Result<f64, FilmError> {
    share("volume solids", volume_solids_ratio)?;
    if !(0.0..=1.0).contains(&thinner_ratio) {
        return Err(FilmError::Thinner {
            ratio: thinner_ratio,
        });
    }
    Ok(volume_solids_ratio / (1.0 + thinner_ratio))
}

/// Dry film of a wet one, m.
///
/// *Errors*: as [`mixed_solids_ratio`]; a wet film that is not above zero.
pub fn dry_film_m(
    wet_film_m: Estimate,
    volume_solids_ratio: f64,
    thinner_ratio: f64,
) -> Result<Estimate, FilmError> {
    let solids = mixed_solids_ratio(volume_solids_ratio, thinner_ratio)?;
    Ok(positive("wet film", wet_film_m)?.scaled(solids))
}

/// Wet film of a wanted dry one, m.
///
/// *Errors*: as [`mixed_solids_ratio`]; a dry film that is not above zero.
pub fn wet_film_for_dry_m(
    dry_film_m: Estimate,
    volume_solids_ratio: f64,
    thinner_ratio: f64,
) -> Result<Estimate, FilmError> {
    let solids = mixed_solids_ratio(volume_solids_ratio, thinner_ratio)?;
    Ok(positive("dry film", dry_film_m)?.scaled(1.0 / solids))
}

/// What an area takes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Job {
    /// Mixed coating, losses of transfer included, m3.
    pub mixed_m3: Estimate,
    /// Coating before thinning, m3.
    pub coating_m3: Estimate,
    /// Thinner, m3.
    pub thinner_m3: Estimate,
    /// Time with the trigger open, s.
    pub spraying_s: Estimate,
    /// Coats of the pass's own film that the wanted film takes, not rounded; up to the next whole one
    /// when each must be dry before the next.
    pub coats: Estimate,
    /// Area that one cubic metre of mixed coating covers, m2/m3 (divide by 1000 for m2 a litre).
    pub coverage_m2_per_m3: Estimate,
}

/// Coating, thinner, time and coats for an area (m2) at a wanted wet film (m).
///
/// *Errors*: as [`Pass::wet_film_m`]; an area or film that is not above zero, thinner outside 0 to 1.
pub fn plan_area(
    area_m2: f64,
    wet_film_m: f64,
    thinner_ratio: f64,
    pass: &Pass,
) -> Result<Job, FilmError> {
    positive("area", Estimate::exact(area_m2))?;
    positive("wanted wet film", Estimate::exact(wet_film_m))?;
    if !(0.0..=1.0).contains(&thinner_ratio) {
        return Err(FilmError::Thinner {
            ratio: thinner_ratio,
        });
    }
    let one_coat = pass.wet_film_m()?;
    let failed = FilmError::NotPositive {
        what: "volume",
        value: f64::NAN,
    };
    let wet_m3 = area_m2 * wet_film_m;
    let mixed_m3 = propagate(&[pass.transfer_ratio], |[te]| wet_m3 / te).ok_or(failed.clone())?;
    let spraying_s = propagate(&[pass.transfer_ratio, pass.flow_m3_per_s], |[te, q]| {
        wet_m3 / te / q
    })
    .ok_or(failed.clone())?;
    Ok(Job {
        mixed_m3,
        coating_m3: mixed_m3.scaled(1.0 / (1.0 + thinner_ratio)),
        thinner_m3: mixed_m3.scaled(thinner_ratio / (1.0 + thinner_ratio)),
        spraying_s,
        coats: propagate(&[one_coat], |[film]| wet_film_m / film).ok_or(failed)?,
        coverage_m2_per_m3: pass.transfer_ratio.scaled(1.0 / wet_film_m),
    })
}

fn positive(what: &'static str, estimate: Estimate) -> Result<Estimate, FilmError> {
    if estimate.value.is_finite() && estimate.value > 0.0 {
        Ok(estimate)
    } else {
        Err(FilmError::NotPositive {
            what,
            value: estimate.value,
        })
    }
}

fn share(what: &'static str, value: f64) -> Result<(), FilmError> {
    if value > 0.0 && value <= 1.0 {
        Ok(())
    } else {
        Err(FilmError::NotAShare { what, value })
    }
}

fn check_overlap(ratio: f64) -> Result<f64, FilmError> {
    if (0.0..=OVERLAP_MAX).contains(&ratio) {
        Ok(ratio)
    } else {
        Err(FilmError::Overlap { ratio })
    }
}

#[cfg(test)]
mod tests;
