//! The last half minute of raw readings, for a calibration: means at rest, edges of a catch.
//!
//! Pressures are as the device declares them, without any earlier calibration.

use std::collections::VecDeque;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use serde::Serialize;
use thiserror::Error;

/// Pressure that is kept, s.
const KEPT_S: f64 = 30.0;

/// Fewest samples that a mean is taken of.
const FEWEST_SAMPLES: usize = 50;

/// A mean is refused when the reading moved by more than this share of its spread-free value, or of
/// [`STILL_PA`], whichever is more: then the line was not at rest.
const STILL_RATIO: f64 = 0.01;

/// See [`STILL_RATIO`].
const STILL_PA: f64 = 5.0e4;

/// Parts that a stretch is cut into for the standard error: neighbouring samples are dependent.
const BATCHES: usize = 10;

/// A sample or an edge may wait this long in the logger for its block to fill (`BLOCK_TICKS` and
/// `EDGE_BLOCK_TICKS` of the firmware), with a little for the line.
const BLOCK_WAIT_S: f64 = 0.6;

/// A meter that gave an edge this recently is turning.
const TURNING_S: f64 = 0.5;

/// How long the end of a catch is waited for.
const CATCH_PATIENCE: Duration = Duration::from_secs(5);

/// Shared between the thread that decodes and whoever calibrates.
#[derive(Debug, Default)]
pub struct Readings {
    inner: Mutex<Inner>,
}

#[derive(Debug, Default)]
struct Inner {
    pressure: VecDeque<(f64, f64)>,
    /// Pressure of one code, Pa.
    step_pa: f64,
    last_edge_s: Option<f64>,
    next_edge: Option<u32>,
    edge_count: u64,
    catch: Option<Catch>,
    /// What the latest catch came to, said again to who did not hear it.
    finished: Option<Result<CaughtEdges, ReadingFault>>,
    /// Everything up to this time has been heard.
    heard_to_s: f64,
}

#[derive(Debug, Clone, Copy)]
struct Catch {
    from_s: f64,
    /// Set by the stop; edges up to here belong to the catch.
    to_s: Option<f64>,
    first_edge_s: f64,
    last_edge_s: f64,
    n_edges: u32,
    n_lost: u32,
}

/// A mean of the pressure reading at rest.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RestMean {
    /// Mean indication, Pa.
    pub indicated_pa: f64,
    /// Standard uncertainty of that mean, Pa.
    pub u_indicated_pa: f64,
    /// Samples.
    pub n_samples: usize,
}

/// The edges of one catch.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CaughtEdges {
    /// Pulses between the two presses.
    pub n_edges: u32,
    /// How long it flowed by the logger's clock: as many intervals as pulses, of their mean length, s.
    pub duration_s: f64,
}

/// Why a reading cannot be used.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ReadingFault {
    /// Not enough samples.
    #[error(
        "only {n} samples came in the last {seconds:.0} s; check the logger's line and try again"
    )]
    TooFew {
        /// How many.
        n: usize,
        /// Over how long.
        seconds: f64,
    },
    /// The line was not at rest.
    #[error(
        "the reading moved by {:.2} bar in the last {seconds:.0} s; let the line come to rest and try \
         again", moved_pa / 1.0e5
    )]
    Moving {
        /// By how much, Pa.
        moved_pa: f64,
        /// Over how long.
        seconds: f64,
    },
    /// Stop without start.
    #[error("no catch has been started")]
    NotStarted,
    /// Nothing flowed, or so little that it has no rate.
    #[error(
        "{n_edges} pulses came during the catch, two are the least; check the flow meter and its cable"
    )]
    NoEdges {
        /// How many came.
        n_edges: u32,
    },
    /// The meter turns before the start or after the stop.
    #[error(
        "the meter is turning: what passes it now is not in the vessel; close the trigger, then press \
         again"
    )]
    Turning,
    /// Pulses were lost on the line.
    #[error(
        "{n_lost} pulses of the catch were lost on the line; check the cable and make this catch again"
    )]
    Lost {
        /// How many.
        n_lost: u32,
    },
    /// The logger fell silent.
    #[error("nothing is heard of the logger; check its line and make this catch again")]
    Silent,
}

impl Readings {
    /// Takes raw pressures, in order of time; one code of the converter is `step_pa`.
    pub fn add_pressure(&self, step_pa: f64, samples: impl Iterator<Item = (f64, f64)>) {
        let mut inner = self.lock();
        inner.step_pa = step_pa.abs();
        inner.pressure.extend(samples);
        let Some(last_s) = inner.pressure.back().map(|(t_s, _)| *t_s) else {
            return;
        };
        inner.heard_to_s = last_s;
        while inner
            .pressure
            .front()
            .is_some_and(|(t_s, _)| *t_s < last_s - KEPT_S || *t_s > last_s)
        {
            inner.pressure.pop_front();
        }
    }

    /// Takes a block of edges, in order of time; `first_edge` is the number of its first, which tells
    /// what was lost before it.
    pub fn add_edges(&self, first_edge: u32, edges: impl Iterator<Item = f64>) {
        let mut inner = self.lock();
        let lost = inner
            .next_edge
            .map_or(0, |next| first_edge.wrapping_sub(next));
        // A device that started anew counts from zero: nothing is known to be lost.
        let lost = if lost > u32::MAX / 2 { 0 } else { lost };
        let mut next = first_edge;
        for t_s in edges {
            next = next.wrapping_add(1);
            inner.edge_count += 1;
            inner.last_edge_s = Some(t_s);
            if let Some(catch) = &mut inner.catch {
                catch.take(t_s);
            }
        }
        inner.next_edge = Some(next);
        if let Some(catch) = &mut inner.catch {
            catch.n_lost = catch.n_lost.saturating_add(lost);
        }
    }

    /// Logger time up to which everything has been heard.
    #[must_use]
    pub fn heard_to_s(&self) -> f64 {
        self.lock().heard_to_s
    }

    /// Mean of the last `seconds` of pressure.
    ///
    /// # Errors
    /// [`ReadingFault::TooFew`], [`ReadingFault::Moving`].
    pub fn rest_mean(&self, seconds: f64) -> Result<RestMean, ReadingFault> {
        let inner = self.lock();
        let from_s = inner.heard_to_s - seconds.clamp(1.0, KEPT_S);
        let wanted = inner.pressure.iter().filter(|(t_s, _)| *t_s >= from_s);
        let values: Vec<f64> = wanted.clone().map(|(_, pa)| *pa).collect();
        let first_s = wanted.map(|(t_s, _)| *t_s).reduce(f64::min);
        // A mean that was asked for over so long is not made of the first moments of a recording.
        if first_s.is_none_or(|first_s| inner.heard_to_s - first_s < 0.8 * seconds) {
            let n = values.len();
            return Err(ReadingFault::TooFew { n, seconds });
        }
        let step_pa = inner.step_pa;
        drop(inner);
        let mean = mean_at_rest(&values, seconds)?;
        // A reading that stands still on one code may be anywhere within it (JCGM 100:2008, 4.3.7).
        Ok(RestMean {
            u_indicated_pa: mean.u_indicated_pa.hypot(step_pa / 12f64.sqrt()),
            ..mean
        })
    }

    /// Begins a catch now, with the trigger closed.
    ///
    /// # Errors
    /// [`ReadingFault::Turning`].
    pub fn start_catch(&self) -> Result<(), ReadingFault> {
        let mut inner = self.lock();
        let from_s = inner.heard_to_s;
        if inner
            .last_edge_s
            .is_some_and(|last_s| from_s - last_s < TURNING_S)
        {
            return Err(ReadingFault::Turning);
        }
        inner.finished = None;
        inner.catch = Some(Catch {
            from_s,
            to_s: None,
            first_edge_s: f64::NAN,
            last_edge_s: f64::NAN,
            n_edges: 0,
            n_lost: 0,
        });
        Ok(())
    }

    /// Pulses of the catch so far; `None` when there is no catch.
    #[must_use]
    pub fn caught_so_far(&self) -> Option<u32> {
        self.lock().catch.map(|catch| catch.n_edges)
    }

    /// Ends the catch now, with the trigger closed: edges that are still on their way belong to it.
    ///
    /// # Errors
    /// [`ReadingFault::NotStarted`].
    pub fn end_catch(&self) -> Result<(), ReadingFault> {
        let mut inner = self.lock();
        let to_s = inner.heard_to_s + BLOCK_WAIT_S;
        let is_over = inner.finished.is_some();
        match &mut inner.catch {
            Some(catch) => {
                catch.to_s.get_or_insert(to_s);
                Ok(())
            }
            None if is_over => Ok(()),
            None => Err(ReadingFault::NotStarted),
        }
    }

    /// What an ended catch came to; `None` until everything of it has been heard. Asked again, the same.
    pub fn caught(&self) -> Option<Result<CaughtEdges, ReadingFault>> {
        let mut inner = self.lock();
        let Some(catch) = inner.catch else {
            let finished = inner.finished.clone();
            return finished.or(Some(Err(ReadingFault::NotStarted)));
        };
        if inner.heard_to_s < catch.to_s? + BLOCK_WAIT_S {
            return None;
        }
        inner.catch = None;
        inner.finished = Some(catch.counted());
        inner.finished.clone()
    }

    /// Ends the catch and waits for the rest of it.
    ///
    /// # Errors
    /// Each [`ReadingFault`] of a catch.
    pub fn stop_catch(&self) -> Result<CaughtEdges, ReadingFault> {
        self.end_catch()?;
        let begun = Instant::now();
        loop {
            if let Some(caught) = self.caught() {
                return caught;
            }
            if begun.elapsed() > CATCH_PATIENCE {
                self.lock().catch = None;
                return Err(ReadingFault::Silent);
            }
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    /// Pulses since the start.
    #[must_use]
    pub fn edge_count(&self) -> u64 {
        self.lock().edge_count
    }

    fn lock(&self) -> std::sync::MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Catch {
    fn take(&mut self, t_s: f64) {
        if t_s <= self.from_s || self.to_s.is_some_and(|to_s| t_s > to_s) {
            return;
        }
        if self.n_edges == 0 {
            self.first_edge_s = t_s;
        }
        self.last_edge_s = t_s;
        self.n_edges = self.n_edges.saturating_add(1);
    }

    fn counted(&self) -> Result<CaughtEdges, ReadingFault> {
        let n_edges = self.n_edges;
        if n_edges < 2 {
            return Err(ReadingFault::NoEdges { n_edges });
        }
        if self.n_lost > 0 {
            let n_lost = self.n_lost;
            return Err(ReadingFault::Lost { n_lost });
        }
        // Two thirds of the extra stretch without an edge: nothing passes any more.
        if self
            .to_s
            .is_some_and(|to_s| to_s - self.last_edge_s < BLOCK_WAIT_S / 3.0)
        {
            return Err(ReadingFault::Turning);
        }
        let intervals = f64::from(n_edges - 1);
        let mean_s = (self.last_edge_s - self.first_edge_s) / intervals;
        Ok(CaughtEdges {
            n_edges,
            duration_s: mean_s * f64::from(n_edges),
        })
    }
}

#[expect(clippy::cast_precision_loss, reason = "counts of seconds of samples")]
fn mean_at_rest(values: &[f64], seconds: f64) -> Result<RestMean, ReadingFault> {
    if values.len() < FEWEST_SAMPLES {
        return Err(ReadingFault::TooFew {
            n: values.len(),
            seconds,
        });
    }
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    let size = values.len() / BATCHES;
    let batches: Vec<f64> = values
        .chunks_exact(size)
        .map(|part| part.iter().sum::<f64>() / size as f64)
        .collect();
    let highest = batches.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let lowest = batches.iter().copied().fold(f64::INFINITY, f64::min);
    let moved_pa = highest - lowest;
    if moved_pa > (STILL_RATIO * mean.abs()).max(STILL_PA) {
        return Err(ReadingFault::Moving { moved_pa, seconds });
    }
    let n = batches.len() as f64;
    let variance = batches.iter().map(|b| (b - mean).powi(2)).sum::<f64>() / (n - 1.0);
    Ok(RestMean {
        indicated_pa: mean,
        u_indicated_pa: (variance / n).sqrt(),
        n_samples: values.len(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn filled(pressure: impl Fn(f64) -> f64) -> Readings {
        let readings = Readings::default();
        readings.add_pressure(
            1_200.0,
            (0..5_000).map(|k| {
                let t_s = f64::from(k) * 0.002;
                (t_s, pressure(t_s))
            }),
        );
        readings
    }

    #[test]
    fn a_still_line_gives_its_mean_and_a_moving_one_is_refused() {
        let still = filled(|t| 1.2e5 + 300.0 * (40.0 * t).sin())
            .rest_mean(5.0)
            .unwrap();
        assert!((still.indicated_pa - 1.2e5).abs() < 100.0);
        assert!(still.u_indicated_pa > 346.0 && still.u_indicated_pa < 450.0);
        assert!(still.n_samples > 2_000);
        let moving = filled(|t| 1.0e5 * t).rest_mean(5.0).unwrap_err();
        assert!(
            moving
                .to_string()
                .starts_with("the reading moved by 4.50 bar in the last 5 s")
        );
        let none = Readings::default().rest_mean(5.0).unwrap_err();
        assert_eq!(
            none.to_string(),
            "only 0 samples came in the last 5 s; check the logger's line and try again"
        );
    }

    /// Ten seconds of pressure from `from_s`.
    fn hear(readings: &Readings, from_s: f64) {
        readings.add_pressure(
            1_200.0,
            (0..5_000).map(|k| (from_s + f64::from(k) * 0.002, 1.0e7)),
        );
    }

    fn edges(from_s: f64, n: u32) -> impl Iterator<Item = f64> {
        (0..n).map(move |k| from_s + f64::from(k) * 0.1)
    }

    #[test]
    fn a_catch_counts_the_edges_between_its_presses_late_ones_too() {
        let readings = filled(|_| 1.0e7);
        readings.add_edges(0, edges(0.0, 10));
        readings.start_catch().unwrap();
        hear(&readings, 10.0);
        readings.add_edges(10, edges(11.05, 75));
        assert_eq!(readings.caught_so_far(), Some(75));
        readings.end_catch().unwrap();
        assert_eq!(readings.caught(), None);
        readings.add_edges(85, edges(18.55, 5));
        hear(&readings, 20.0);
        let caught = readings.caught().unwrap().unwrap();
        assert_eq!(caught.n_edges, 80);
        assert!((caught.duration_s - 8.0).abs() < 1e-9);
        // Who did not hear the answer asks again.
        assert_eq!(readings.stop_catch(), Ok(caught));
        readings.start_catch().unwrap();
        assert_eq!(readings.caught(), None);
        let never = filled(|_| 1.0e7);
        assert_eq!(never.stop_catch(), Err(ReadingFault::NotStarted));
    }

    #[test]
    fn a_catch_that_cannot_be_right_is_refused_by_its_reason() {
        let catch_with = |from_s: f64, first: u32, n: u32| {
            let readings = filled(|_| 1.0e7);
            readings.add_edges(0, edges(0.0, 10));
            readings.start_catch().unwrap();
            readings.add_edges(first, edges(from_s, n));
            hear(&readings, 10.0);
            readings.end_catch().unwrap();
            hear(&readings, 20.0);
            readings.caught().unwrap()
        };
        assert!(catch_with(11.0, 10, 60).is_ok());
        assert_eq!(
            catch_with(11.0, 13, 60),
            Err(ReadingFault::Lost { n_lost: 3 })
        );
        assert_eq!(
            catch_with(11.0, 10, 1),
            Err(ReadingFault::NoEdges { n_edges: 1 })
        );
        assert_eq!(catch_with(11.0, 10, 96), Err(ReadingFault::Turning));
        let turning = filled(|_| 1.0e7);
        turning.add_edges(0, edges(9.0, 10));
        assert_eq!(turning.start_catch(), Err(ReadingFault::Turning));
    }
}
