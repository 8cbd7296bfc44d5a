//! How thick a wet film holds on a wall before it sags.
//!
//! From the yield stress, where it was measured: a film of thickness h pulls at the wall with
//! `rho g h` and holds while that is below the yield stress. Otherwise from the operator's own notes of
//! runs: the thickest film that held and the thinnest that ran bracket the limit. Never extrapolated.

use serde::{Deserialize, Serialize};

use super::{FilmError, positive};
use crate::estimate::propagate::propagate;
use crate::estimate::{Estimate, Interval};

/// Standard acceleration of free fall, m/s2, exact (CGPM 1901).
const GRAVITY: f64 = 9.806_65;

/// Thickest wet film that holds on a vertical wall, m, from yield stress (Pa) and density (kg/m3).
///
/// *Errors*: a yield stress or density that is not above zero.
///
/// *Source*: balance of wall shear stress and weight, `tau_y = rho g h` (derived here); a coating that
/// recovers slowly after the tip holds less.
pub fn limit_from_yield(
    yield_stress_pa: Estimate,
    density_kg_per_m3: Estimate,
) -> Result<Estimate, FilmError> {
    let stress = positive("yield stress", yield_stress_pa)?;
    let density = positive("density", density_kg_per_m3)?;
    propagate(&[stress, density], |[tau, rho]| tau / (rho * GRAVITY)).ok_or(
        FilmError::NotPositive {
            what: "sag limit",
            value: f64::NAN,
        },
    )
}

/// One film with what became of it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct FilmNote {
    /// Wet film, m: from a comb, or from flow and hand speed.
    pub wet_film_m: Estimate,
    /// True when it sagged or ran.
    pub has_run: bool,
}

/// The film at which runs begin, as far as the notes carry it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum SagLimit {
    /// Between films that held and films that ran.
    Between {
        /// Geometric mean of the two, m.
        estimate_m: f64,
        /// From the lower to the higher of the two, widened by their 95 % uncertainties, m.
        interval_95_m: Interval,
        /// Thickest film that held, m.
        thickest_held_m: f64,
        /// Thinnest film that ran, m.
        thinnest_run_m: f64,
        /// True when some film held that was thicker than one that ran.
        overlap: bool,
    },
    /// No film ran: the limit lies above.
    Above {
        /// Thickest film that held, m.
        thickest_held_m: f64,
    },
    /// Every film ran: the limit lies below.
    Below {
        /// Thinnest film that ran, m.
        thinnest_run_m: f64,
    },
    /// No note at all.
    NoNotes,
}

/// The film at which runs begin, from notes.
///
/// *Errors*: a film that is not finite and above zero.
pub fn limit_from_notes(notes: &[FilmNote]) -> Result<SagLimit, FilmError> {
    for note in notes {
        positive("wet film", note.wet_film_m)?;
    }
    let by_film = |a: &&FilmNote, b: &&FilmNote| a.wet_film_m.value.total_cmp(&b.wet_film_m.value);
    let held = notes.iter().filter(|n| !n.has_run).max_by(by_film);
    let run = notes.iter().filter(|n| n.has_run).min_by(by_film);
    Ok(match (held, run) {
        (None, None) => SagLimit::NoNotes,
        (Some(held), None) => SagLimit::Above {
            thickest_held_m: held.wet_film_m.value,
        },
        (None, Some(run)) => SagLimit::Below {
            thinnest_run_m: run.wet_film_m.value,
        },
        (Some(held), Some(run)) => {
            let (held, run) = (held.wet_film_m, run.wet_film_m);
            let (a, b) = (held.interval_95(), run.interval_95());
            SagLimit::Between {
                estimate_m: (held.value * run.value).sqrt(),
                interval_95_m: Interval {
                    low: a.low.min(b.low).max(0.0),
                    high: a.high.max(b.high),
                },
                thickest_held_m: held.value,
                thinnest_run_m: run.value,
                overlap: held.value >= run.value,
            }
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn note(um: f64, has_run: bool) -> FilmNote {
        FilmNote {
            wet_film_m: Estimate::new(um / 1e6, 5e-6, 0.0),
            has_run,
        }
    }

    /// By hand: 2.4 Pa at 1224 kg/m3 hold 200 um.
    #[test]
    fn a_yield_stress_holds_the_weight_of_its_film() {
        let stress = Estimate::new(2.4, 0.24, 0.0);
        let limit = limit_from_yield(stress, Estimate::exact(1224.0)).unwrap();
        assert!((limit.value - 200e-6).abs() < 0.1e-6, "{limit:?}");
        assert!((limit.u_independent / limit.value - 0.1).abs() < 1e-9);
    }

    #[test]
    fn notes_bracket_the_limit_and_never_extrapolate() {
        let notes = [note(100.0, false), note(150.0, false), note(200.0, true)];
        match limit_from_notes(&notes).unwrap() {
            SagLimit::Between {
                estimate_m,
                interval_95_m,
                overlap,
                ..
            } => {
                assert!((estimate_m - 173.2e-6).abs() < 0.1e-6 && !overlap);
                assert!(interval_95_m.contains(145e-6) && interval_95_m.contains(205e-6));
            }
            other => panic!("{other:?}"),
        }
        let above = limit_from_notes(&notes[..2]).unwrap();
        assert_eq!(
            above,
            SagLimit::Above {
                thickest_held_m: 150e-6
            }
        );
        let below = limit_from_notes(&notes[2..]).unwrap();
        assert_eq!(
            below,
            SagLimit::Below {
                thinnest_run_m: 200e-6
            }
        );
        assert_eq!(limit_from_notes(&[]).unwrap(), SagLimit::NoNotes);
    }

    #[test]
    fn contradicting_notes_widen_the_bracket() {
        let notes = [note(220.0, false), note(180.0, true)];
        match limit_from_notes(&notes).unwrap() {
            SagLimit::Between {
                interval_95_m,
                overlap,
                ..
            } => {
                assert!(
                    overlap && interval_95_m.contains(180e-6) && interval_95_m.contains(220e-6)
                );
            }
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn unusable_numbers_are_refused_by_name() {
        assert_eq!(
            limit_from_yield(Estimate::exact(0.0), Estimate::exact(1200.0))
                .unwrap_err()
                .to_string(),
            "yield stress is 0; it must be a finite number above zero"
        );
        assert_eq!(
            limit_from_notes(&[note(f64::NAN, true)])
                .unwrap_err()
                .to_string(),
            "wet film is NaN; it must be a finite number above zero"
        );
    }
}
