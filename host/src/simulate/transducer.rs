//! The pressure transducer and its converter: zero, span, noise, steps, limits and faults.

use super::index::nearest_code;
use super::random::RandomStream;

/// What may be wrong with the reading beyond its stated accuracy.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PressureFault {
    /// Nothing.
    None,
    /// Readings stay at one value from a moment of true time on.
    StuckFrom {
        /// True time, s.
        t_s: f64,
    },
    /// Numbers are written in another unit from a moment on: multiplied by a factor.
    UnitFrom {
        /// True time, s.
        t_s: f64,
        /// The other unit's number over the declared one's.
        factor: f64,
    },
}

/// A pressure transducer with its converter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Transducer {
    /// Full scale.
    pub full_scale_pa: f64,
    /// Stated accuracy, two standard deviations of zero and of span each, over full scale.
    pub stated_accuracy_ratio: f64,
    /// Reading with the line relieved.
    pub zero_pa: f64,
    /// How the zero moves, Pa/s.
    pub zero_drift_pa_per_s: f64,
    /// Relative error of the span.
    pub span_error_ratio: f64,
    /// Standard deviation of the noise.
    pub noise_pa: f64,
    /// Bits of the converter over full scale.
    pub bits: u32,
    /// What is wrong with it.
    pub fault: PressureFault,
}

impl Transducer {
    /// Pressure of one step of the converter.
    #[must_use]
    pub fn step_pa(&self) -> f64 {
        self.full_scale_pa / f64::from(self.highest_code())
    }

    /// Code at full scale, where the converter ends.
    #[must_use]
    pub const fn highest_code(&self) -> i32 {
        1 << self.bits
    }

    /// Lowest code: the output reaches a twentieth of full scale below zero.
    #[must_use]
    pub const fn lowest_code(&self) -> i32 {
        -(self.highest_code() / 20)
    }

    /// Code of a true pressure at a true time.
    pub fn code(&self, true_pa: f64, t_s: f64, random: &mut RandomStream) -> i32 {
        let analogue_pa = true_pa * (1.0 + self.span_error_ratio)
            + self.zero_pa
            + self.zero_drift_pa_per_s * t_s
            + random.normal(self.noise_pa);
        nearest_code(
            analogue_pa / self.step_pa(),
            self.lowest_code(),
            self.highest_code(),
        )
    }

    /// True when the converter's output no longer follows the pressure at a true time.
    #[must_use]
    pub fn is_stuck(&self, at_s: f64) -> bool {
        matches!(self.fault, PressureFault::StuckFrom { t_s } if at_s >= t_s)
    }

    /// What a written number must be multiplied with at a true time to repeat a unit mistake.
    #[must_use]
    pub fn unit_factor(&self, at_s: f64) -> f64 {
        match self.fault {
            PressureFault::UnitFrom { t_s, factor } if at_s >= t_s => factor,
            _ => 1.0,
        }
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::super::random::Part;
    use super::*;

    /// 250 bar, 14 bits, without faults, for the tests of this folder.
    pub(crate) fn test_transducer() -> Transducer {
        Transducer {
            full_scale_pa: 2.5e7,
            stated_accuracy_ratio: 0.005,
            zero_pa: 0.0,
            zero_drift_pa_per_s: 0.0,
            span_error_ratio: 0.0,
            noise_pa: 0.0,
            bits: 14,
            fault: PressureFault::None,
        }
    }

    fn read_pa(transducer: &Transducer, true_pa: f64, t_s: f64) -> f64 {
        let mut random = RandomStream::new(1, Part::Sensors);
        f64::from(transducer.code(true_pa, t_s, &mut random)) * transducer.step_pa()
    }

    #[test]
    fn reading_is_within_half_a_step_and_held_at_full_scale() {
        let ideal = test_transducer();
        assert!((read_pa(&ideal, 1.0e7, 0.0) - 1.0e7).abs() <= 0.5 * ideal.step_pa());
        assert_eq!(read_pa(&ideal, 4.0e7, 0.0), 2.5e7);
        assert!((read_pa(&ideal, -9.0e6, 0.0) / 2.5e7 + 0.05).abs() < 1e-3);
    }

    #[test]
    fn zero_drift_and_span_add_up() {
        let off = Transducer {
            zero_pa: 5.0e4,
            zero_drift_pa_per_s: 100.0,
            span_error_ratio: 0.01,
            ..test_transducer()
        };
        let expected = 1.01e7 + 5.0e4 + 1.0e4;
        assert!((read_pa(&off, 1.0e7, 100.0) - expected).abs() <= off.step_pa());
    }

    #[test]
    fn faults_begin_at_their_time() {
        let stuck = Transducer {
            fault: PressureFault::StuckFrom { t_s: 5.0 },
            ..test_transducer()
        };
        assert!(!stuck.is_stuck(4.9) && stuck.is_stuck(5.0));
        let mixed = Transducer {
            fault: PressureFault::UnitFrom {
                t_s: 5.0,
                factor: 0.1,
            },
            ..test_transducer()
        };
        assert_eq!(mixed.unit_factor(4.0), 1.0);
        assert_eq!(mixed.unit_factor(6.0), 0.1);
    }
}
