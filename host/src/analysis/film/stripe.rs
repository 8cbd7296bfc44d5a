//! Passes laid over each other: how even is the film across them?
//!
//! A fan profile says where in the fan the coating goes. Parallel passes at one pitch make a film that
//! repeats with the pitch; its mean is fixed by the volume, its stripes by profile and overlap. A second
//! coat in the same tracks doubles the film and keeps the stripes; one shifted by half a pitch fills
//! them. In goes a profile, measured or assumed; out comes the film across the passes relative to its
//! mean. Nothing is said of how the wet film levels afterwards.

use serde::{Deserialize, Serialize};

use super::{FilmError, check_overlap};

/// Places a pitch at which the film is worked out.
const PLACES: usize = 400;
/// Intervals a profile is averaged over for its normalisation.
const SLICES: u16 = 2000;

/// Where in the fan the coating goes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "profile", rename_all = "snake_case")]
pub enum FanProfile {
    /// The same everywhere.
    Uniform,
    /// Most in the middle, nothing at the edges: `1 - x^2`, x from -1 to 1.
    Parabolic,
    /// The same in the middle, falling straight to nothing over a share of the width at either side.
    Trapezoidal {
        /// Share of the fan width that each flank takes, above 0 and up to 0.5.
        flank_ratio: f64,
    },
    /// A trapezium with heavy edges: tails.
    Tailed {
        /// Share of the coating that goes into the two tails, 0 to 0.5.
        tail_share: f64,
        /// Share of the fan width that each tail takes, above 0 and up to 0.25.
        tail_width_ratio: f64,
    },
    /// Measured film across a single pass.
    Measured {
        /// Places across the fan, m, strictly increasing; the fan reaches from the first to the last.
        x_m: Vec<f64>,
        /// Film or mass at each, any unit, none negative, not all zero.
        amount: Vec<f64>,
    },
}

impl FanProfile {
    /// The assumption where nothing was measured: flanks of a fifth (common practice, no source).
    #[must_use]
    pub const fn assumed() -> Self {
        Self::Trapezoidal { flank_ratio: 0.2 }
    }

    fn check(&self) -> Result<(), FilmError> {
        let fault = |what| Err(FilmError::Profile { what });
        match self {
            Self::Uniform | Self::Parabolic => Ok(()),
            Self::Trapezoidal { flank_ratio } if *flank_ratio > 0.0 && *flank_ratio <= 0.5 => {
                Ok(())
            }
            Self::Trapezoidal { .. } => {
                fault("each flank must be above 0 and at most half the width")
            }
            Self::Tailed {
                tail_share,
                tail_width_ratio,
            } => {
                let is_usable = (0.0..=0.5).contains(tail_share)
                    && *tail_width_ratio > 0.0
                    && *tail_width_ratio <= 0.25;
                if is_usable {
                    Ok(())
                } else {
                    fault(
                        "tails must hold 0 to half the coating on above 0 to a quarter of the width each",
                    )
                }
            }
            Self::Measured { x_m, amount } => {
                if x_m.len() != amount.len() || x_m.len() < 3 {
                    return fault("three places or more, each with an amount, are needed");
                }
                let is_increasing = x_m.windows(2).all(|w| w[1] > w[0]) && x_m[0].is_finite();
                if !(is_increasing && x_m[x_m.len() - 1].is_finite()) {
                    return fault("places must increase from one side of the fan to the other");
                }
                let is_amount = |a: &f64| a.is_finite() && *a >= 0.0;
                if !(amount.iter().all(is_amount) && amount.iter().any(|a| *a > 0.0)) {
                    return fault("amounts must be finite, none negative, and not all zero");
                }
                Ok(())
            }
        }
    }

    /// Amount at a place, -1 left edge to 1 right edge; not normalised; zero outside.
    fn at(&self, place: f64) -> f64 {
        let from_edge = 0.5 * (1.0 - place.abs());
        if from_edge < 0.0 {
            return 0.0;
        }
        match self {
            Self::Uniform => 1.0,
            Self::Parabolic => 1.0 - place * place,
            Self::Trapezoidal { flank_ratio } => (from_edge / flank_ratio).min(1.0),
            Self::Tailed {
                tail_share,
                tail_width_ratio,
            } => {
                let body = 1.0 - tail_share;
                let is_tail = from_edge < *tail_width_ratio;
                body + if is_tail {
                    0.5 * tail_share / tail_width_ratio
                } else {
                    0.0
                }
            }
            Self::Measured { x_m, amount } => {
                let (first, last) = (x_m[0], x_m[x_m.len() - 1]);
                let x = first + 0.5 * (place + 1.0) * (last - first);
                let i = x_m.partition_point(|p| *p <= x).clamp(1, x_m.len() - 1);
                let part = (x - x_m[i - 1]) / (x_m[i] - x_m[i - 1]);
                amount[i - 1] + part * (amount[i] - amount[i - 1])
            }
        }
    }

    /// Mean of the profile over the fan, for normalising.
    fn mean(&self) -> f64 {
        let slices = (0..SLICES).map(|i| {
            let place = (2.0 * f64::from(i) + 1.0) / f64::from(SLICES) - 1.0;
            self.at(place)
        });
        slices.sum::<f64>() / f64::from(SLICES)
    }
}

/// The film across the passes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Stripes {
    /// Places over one pitch, as shares of the fan width, from the middle of one pass to that of the
    /// next.
    pub place_ratio: Vec<f64>,
    /// Film at each place over its mean.
    pub film_ratio: Vec<f64>,
    /// Thinnest place over the mean.
    pub least_ratio: f64,
    /// Thickest place over the mean.
    pub greatest_ratio: f64,
    /// Mean film over that of one coat: the number of coats.
    pub n_coats: f64,
}

impl Stripes {
    /// Stripe height: thickest minus thinnest over the mean.
    #[must_use]
    pub fn height_ratio(&self) -> f64 {
        self.greatest_ratio - self.least_ratio
    }
}

/// Lay endless parallel passes with one overlap, once or more.
///
/// *Shape*: `coat_shifts` has one entry a coat: by how much of a pitch its tracks are shifted, 0 for
/// the same tracks; empty counts as one coat.
///
/// *Errors*: an overlap outside 0 to 0.9, a profile or shift that is no usable number.
///
/// *Source*: superposition; films of successive passes add.
pub fn lay_passes(
    profile: &FanProfile,
    overlap_ratio: f64,
    coat_shifts: &[f64],
) -> Result<Stripes, FilmError> {
    profile.check()?;
    let pitch = 1.0 - check_overlap(overlap_ratio)?;
    let once = [0.0];
    let shifts = if coat_shifts.is_empty() {
        &once[..]
    } else {
        coat_shifts
    };
    if shifts.iter().any(|s| !s.is_finite()) {
        return Err(FilmError::Profile {
            what: "the shift of a coat must be a finite share of the pitch",
        });
    }
    // Film over the mean of one coat: each pass adds its profile times pitch over width.
    let scale = pitch / (profile.mean() * shifts.len() as f64);
    let place_ratio: Vec<f64> = (0..PLACES)
        .map(|i| pitch * (i as f64 + 0.5) / PLACES as f64)
        .collect();
    let film_ratio: Vec<f64> = place_ratio
        .iter()
        .map(|x| {
            scale
                * shifts
                    .iter()
                    .map(|s| one_coat(profile, pitch, x - s * pitch))
                    .sum::<f64>()
        })
        .collect();
    Ok(Stripes {
        least_ratio: film_ratio.iter().copied().fold(f64::INFINITY, f64::min),
        greatest_ratio: film_ratio.iter().copied().fold(0.0, f64::max),
        place_ratio,
        film_ratio,
        n_coats: shifts.len() as f64,
    })
}

/// The overlap of a list that leaves the lowest stripes, with its stripes; `None` for an empty list.
///
/// *Errors*: as [`lay_passes`].
pub fn most_even_overlap(
    profile: &FanProfile,
    overlaps: &[f64],
) -> Result<Option<(f64, Stripes)>, FilmError> {
    let mut best: Option<(f64, Stripes)> = None;
    for overlap in overlaps {
        let stripes = lay_passes(profile, *overlap, &[])?;
        let is_better = best
            .as_ref()
            .is_none_or(|(_, b)| stripes.height_ratio() < b.height_ratio());
        if is_better {
            best = Some((*overlap, stripes));
        }
    }
    Ok(best)
}

/// Sum of the profiles of all passes at a place, in fan widths from the middle of one of them.
fn one_coat(profile: &FanProfile, pitch: f64, x: f64) -> f64 {
    // Passes whose middle lies within half a fan width of the place.
    let nearest = (x / pitch).round();
    let reach = (0.5 / pitch).ceil() + 1.0;
    let n = 2.0 * reach + 1.0;
    let mut sum = 0.0;
    let mut k = 0.0;
    while k < n {
        let middle = (nearest + k - reach) * pitch;
        sum += profile.at(2.0 * (x - middle));
        k += 1.0;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn height(profile: &FanProfile, overlap: f64, expected: f64) {
        let found = lay_passes(profile, overlap, &[]).unwrap().height_ratio();
        assert!(
            (found - expected).abs() < 0.01,
            "{profile:?} at {overlap}: {found}, not {expected}"
        );
    }

    /// By hand: a uniform fan overlapped by a third lies once on half the pitch and twice on the
    /// other half; a triangle overlapped by half adds up to a constant.
    #[test]
    fn simple_profiles_have_the_stripes_of_plain_geometry() {
        let triangle = FanProfile::Trapezoidal { flank_ratio: 0.5 };
        height(&FanProfile::Uniform, 0.0, 0.0);
        height(&FanProfile::Uniform, 0.5, 0.0);
        height(&FanProfile::Uniform, 1.0 / 3.0, 2.0 / 3.0);
        height(&triangle, 0.5, 0.0);
        height(&triangle, 0.0, 2.0);
        // Parabola at half overlap: (1 - x^2) + (1 - (1 - x)^2) over its mean 4/3: 1 to 1.5.
        height(&FanProfile::Parabolic, 0.5, 0.375);
        // Flanks that are just overlapped by each other are even.
        height(&FanProfile::Trapezoidal { flank_ratio: 0.3 }, 0.3, 0.0);
    }

    #[test]
    fn volume_is_conserved_whatever_profile_and_overlap() {
        let measured = FanProfile::Measured {
            x_m: vec![0.0, 0.03, 0.1, 0.15, 0.2],
            amount: vec![0.0, 8.0, 5.0, 7.0, 1.0],
        };
        let tailed = FanProfile::Tailed {
            tail_share: 0.3,
            tail_width_ratio: 0.1,
        };
        for profile in [
            FanProfile::assumed(),
            FanProfile::Parabolic,
            measured,
            tailed,
        ] {
            for overlap in [0.0, 0.3, 0.37, 0.5, 0.8] {
                let stripes = lay_passes(&profile, overlap, &[0.0, 0.5]).unwrap();
                let mean = stripes.film_ratio.iter().sum::<f64>() / stripes.film_ratio.len() as f64;
                assert!(
                    (mean - 1.0).abs() < 0.01,
                    "{profile:?} at {overlap}: {mean}"
                );
            }
        }
    }

    #[test]
    fn a_second_coat_in_the_same_tracks_keeps_the_stripes_and_a_shifted_one_fills_them() {
        let once = lay_passes(&FanProfile::Parabolic, 0.4, &[]).unwrap();
        let twice = lay_passes(&FanProfile::Parabolic, 0.4, &[0.0, 0.0]).unwrap();
        let shifted = lay_passes(&FanProfile::Parabolic, 0.4, &[0.0, 0.5]).unwrap();
        assert!((once.height_ratio() - twice.height_ratio()).abs() < 1e-12);
        assert_eq!((once.n_coats, twice.n_coats), (1.0, 2.0));
        assert!(shifted.height_ratio() < 0.5 * once.height_ratio());
    }

    #[test]
    fn tails_make_stripes_that_a_fan_without_them_has_not() {
        let tailed = FanProfile::Tailed {
            tail_share: 0.3,
            tail_width_ratio: 0.1,
        };
        let even = lay_passes(&FanProfile::Uniform, 0.5, &[])
            .unwrap()
            .height_ratio();
        let striped = lay_passes(&tailed, 0.5, &[]).unwrap().height_ratio();
        assert!(striped > even + 0.5, "{striped}");
        let none = FanProfile::Tailed {
            tail_share: 0.0,
            tail_width_ratio: 0.1,
        };
        assert!(
            (lay_passes(&none, 0.3, &[]).unwrap().height_ratio()
                - lay_passes(&FanProfile::Uniform, 0.3, &[])
                    .unwrap()
                    .height_ratio())
            .abs()
                < 1e-12
        );
    }

    #[test]
    fn the_most_even_overlap_is_found_in_a_list() {
        let triangle = FanProfile::Trapezoidal { flank_ratio: 0.5 };
        let (best, _) = most_even_overlap(&triangle, &[0.3, 0.4, 0.5])
            .unwrap()
            .unwrap();
        assert_eq!(best, 0.5);
        assert_eq!(most_even_overlap(&triangle, &[]).unwrap(), None);
    }

    #[test]
    fn unusable_profiles_are_refused_by_name() {
        #[track_caller]
        fn check(profile: &FanProfile, message: &str) {
            assert_eq!(
                lay_passes(profile, 0.3, &[]).unwrap_err().to_string(),
                message
            );
        }
        let measured = |x_m: &[f64], amount: &[f64]| FanProfile::Measured {
            x_m: x_m.to_vec(),
            amount: amount.to_vec(),
        };
        check(
            &measured(&[0.0, 1.0], &[1.0, 1.0]),
            "fan profile: three places or more, each with an amount, are needed",
        );
        check(
            &measured(&[0.0, 1.0, 1.0], &[1.0, 1.0, 1.0]),
            "fan profile: places must increase from one side of the fan to the other",
        );
        check(
            &measured(&[0.0, 1.0, 2.0], &[0.0, 0.0, 0.0]),
            "fan profile: amounts must be finite, none negative, and not all zero",
        );
        check(
            &measured(&[0.0, 1.0, 2.0], &[0.0, f64::NAN, 0.0]),
            "fan profile: amounts must be finite, none negative, and not all zero",
        );
        check(
            &FanProfile::Trapezoidal { flank_ratio: 0.0 },
            "fan profile: each flank must be above 0 and at most half the width",
        );
        assert!(lay_passes(&FanProfile::Uniform, f64::NAN, &[]).is_err());
        assert!(lay_passes(&FanProfile::Uniform, 0.3, &[f64::NAN]).is_err());
    }
}
