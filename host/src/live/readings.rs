//! The last half minute of raw readings, for a calibration: means at rest, edges of a catch.
//!
//! Pressures are as the device declares them, without any earlier calibration.

use std::collections::VecDeque;
use std::sync::{Mutex, PoisonError};

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

/// Shared between the thread that decodes and whoever calibrates.
#[derive(Debug, Default)]
pub struct Readings {
    inner: Mutex<Inner>,
}

#[derive(Debug, Default)]
struct Inner {
    pressure: VecDeque<(f64, f64)>,
    edges: VecDeque<f64>,
    edge_count: u64,
    catch: Option<Catch>,
    /// Everything up to this time has been heard.
    heard_to_s: f64,
}

#[derive(Debug, Clone, Copy)]
struct Catch {
    from_s: f64,
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

/// Edges between the start and the stop of a catch.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CaughtEdges {
    /// Pulses between the two presses.
    pub n_edges: u32,
    /// Time between them by the logger's clock, s.
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
    /// Nothing flowed.
    #[error("no pulse came during the catch; check the flow meter and its cable")]
    NoEdges,
}

impl Readings {
    /// Takes one raw pressure.
    pub fn add_pressure(&self, samples: impl Iterator<Item = (f64, f64)>) {
        let mut inner = self.lock();
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

    /// Takes edges, in order of time.
    pub fn add_edges(&self, edges: impl Iterator<Item = f64>) {
        let mut inner = self.lock();
        for t_s in edges {
            inner.edge_count += 1;
            inner.edges.push_back(t_s);
        }
        // An hour of the fastest meter; a catch lasts a minute.
        while inner.edges.len() > 2_000_000 {
            inner.edges.pop_front();
        }
    }

    /// Mean of the last `seconds` of pressure.
    ///
    /// # Errors
    /// [`ReadingFault::TooFew`], [`ReadingFault::Moving`].
    pub fn rest_mean(&self, seconds: f64) -> Result<RestMean, ReadingFault> {
        let inner = self.lock();
        let from_s = inner.heard_to_s - seconds.clamp(1.0, KEPT_S);
        let values: Vec<f64> = inner
            .pressure
            .iter()
            .filter(|(t_s, _)| *t_s >= from_s)
            .map(|(_, pa)| *pa)
            .collect();
        drop(inner);
        mean_at_rest(&values, seconds)
    }

    /// Begins a catch now.
    pub fn start_catch(&self) {
        let mut inner = self.lock();
        let from_s = inner.heard_to_s;
        inner.edges.clear();
        inner.catch = Some(Catch { from_s });
    }

    /// Ends the catch now.
    ///
    /// # Errors
    /// [`ReadingFault::NotStarted`], [`ReadingFault::NoEdges`].
    pub fn stop_catch(&self) -> Result<CaughtEdges, ReadingFault> {
        let mut inner = self.lock();
        let catch = inner.catch.take().ok_or(ReadingFault::NotStarted)?;
        let to_s = inner.heard_to_s;
        let within = |t: &&f64| **t >= catch.from_s && **t <= to_s;
        let n_edges = inner.edges.iter().filter(within).count();
        if n_edges == 0 {
            return Err(ReadingFault::NoEdges);
        }
        Ok(CaughtEdges {
            n_edges: u32::try_from(n_edges).unwrap_or(u32::MAX),
            duration_s: to_s - catch.from_s,
        })
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
        readings.add_pressure((0..5_000).map(|k| {
            let t_s = f64::from(k) * 0.002;
            (t_s, pressure(t_s))
        }));
        readings
    }

    #[test]
    fn a_still_line_gives_its_mean_and_a_moving_one_is_refused() {
        let still = filled(|t| 1.2e5 + 300.0 * (40.0 * t).sin())
            .rest_mean(5.0)
            .unwrap();
        assert!((still.indicated_pa - 1.2e5).abs() < 100.0);
        assert!(still.u_indicated_pa < 100.0 && still.n_samples > 2_000);
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

    #[test]
    fn a_catch_counts_the_edges_between_its_presses() {
        let readings = filled(|_| 1.0e7);
        readings.add_edges((0..10).map(|k| f64::from(k) * 0.5));
        readings.start_catch();
        readings.add_pressure((0..5_000).map(|k| (10.0 + f64::from(k) * 0.002, 1.0e7)));
        readings.add_edges((0..80).map(|k| 10.05 + f64::from(k) * 0.1));
        let caught = readings.stop_catch().unwrap();
        assert_eq!(caught.n_edges, 80);
        assert!((caught.duration_s - 10.0).abs() < 0.01);
        assert_eq!(readings.stop_catch(), Err(ReadingFault::NotStarted));
        readings.start_catch();
        assert_eq!(readings.stop_catch(), Err(ReadingFault::NoEdges));
    }
}
