//! One seed, many streams: what is drawn for one part never shifts what is drawn for another.
//!
//! Every random number of the simulated rig comes from here, so that a scenario and its seed give
//! the same recording again, and so that one more draw for the operator leaves the pump alone.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

/// Which part of the simulation draws.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u64)]
pub enum Part {
    /// What the scenario is: rig, coating, tip.
    Scenario = 1,
    /// Dead band and temperature wander of the rig.
    Rig = 2,
    /// Noise of the pressure transducer and the slow sensors.
    Sensors = 3,
    /// Bounce of the flow meter's contact.
    Meter = 4,
    /// The person: grades, delays, omissions.
    Operator = 5,
    /// Row times and lost rows of a data-acquisition box.
    Rows = 6,
    /// Delays on the serial line.
    Line = 7,
    /// How long the trigger is really held.
    Hand = 8,
}

/// Random numbers of one part of one seed.
#[derive(Debug, Clone)]
pub struct RandomStream(ChaCha8Rng);

impl RandomStream {
    /// The stream of `part` under `seed`.
    #[must_use]
    pub fn new(seed: u64, part: Part) -> Self {
        let mut generator = ChaCha8Rng::seed_from_u64(seed);
        generator.set_stream(part as u64);
        Self(generator)
    }

    /// Uniform between `low` and `high`.
    pub fn uniform(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.random::<f64>()
    }

    /// Uniform in the logarithm between `low` and `high`, both above zero.
    pub fn log_uniform(&mut self, low: f64, high: f64) -> f64 {
        self.uniform(low.ln(), high.ln()).exp()
    }

    /// Normal with mean zero and the given standard deviation.
    pub fn normal(&mut self, deviation: f64) -> f64 {
        deviation * self.0.sample::<f64, _>(StandardNormal)
    }

    /// True with the given probability.
    pub fn chance(&mut self, probability: f64) -> bool {
        self.0.random::<f64>() < probability
    }

    /// Exponential with the given mean.
    pub fn exponential(&mut self, mean: f64) -> f64 {
        -mean * (1.0 - self.0.random::<f64>()).ln()
    }

    /// A whole number from `low` to `high`, both included.
    pub fn whole(&mut self, low: usize, high: usize) -> usize {
        self.0.random_range(low..=high)
    }

    /// One of `choices`.
    ///
    /// # Panics
    /// When `choices` is empty: every caller passes a literal list.
    pub fn pick<T: Copy>(&mut self, choices: &[T]) -> T {
        choices[self.whole(0, choices.len() - 1)]
    }

    /// Puts `items` in random order.
    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for last in (1..items.len()).rev() {
            items.swap(last, self.whole(0, last));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn streams_repeat_and_do_not_disturb_each_other() {
        let mut a = RandomStream::new(7, Part::Rig);
        let mut b = RandomStream::new(7, Part::Rig);
        let mut other = RandomStream::new(7, Part::Operator);
        let first: Vec<f64> = (0..4).map(|_| a.uniform(0.0, 1.0)).collect();
        let second: Vec<f64> = (0..4)
            .map(|_| {
                other.normal(1.0);
                b.uniform(0.0, 1.0)
            })
            .collect();
        assert_eq!(first, second);
        assert_ne!(first[0], other.uniform(0.0, 1.0));
    }

    /// Mean and standard deviation of 20 000 draws, each within five standard errors.
    #[test]
    fn normal_and_exponential_have_their_moments() {
        let mut stream = RandomStream::new(3, Part::Sensors);
        let n = 20_000;
        let normals: Vec<f64> = (0..n).map(|_| stream.normal(2.0)).collect();
        let mean = normals.iter().sum::<f64>() / f64::from(n);
        let variance = normals.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / f64::from(n);
        assert!(mean.abs() < 0.071, "{mean}");
        assert!((variance.sqrt() - 2.0).abs() < 0.05, "{variance}");
        let waits = (0..n).map(|_| stream.exponential(3.0)).sum::<f64>() / f64::from(n);
        assert!((waits - 3.0).abs() < 0.11, "{waits}");
    }
}
