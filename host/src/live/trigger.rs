//! What the trigger does now, from the newest readings: a display, not the burst detection of the
//! analysis.

use super::snapshot::TriggerState;

/// Below this a reading is called low. Two bar is above the zero error of a 400 bar transducer
/// and far below any spraying pressure. It never means that the line is safe.
pub const LOW_PA: f64 = 2.0e5;

/// How fast the stalled pressure is followed while the trigger is closed, s.
const STALLED_FOLLOW_S: f64 = 0.3;

/// Follows the trigger.
#[derive(Debug, Default)]
pub struct Trigger {
    state: TriggerState,
    since_s: Option<f64>,
    following_pa: Option<f64>,
    last_t_s: Option<f64>,
    stalled_pa: Option<f64>,
    sag_ratio: Option<f64>,
}

impl Trigger {
    /// Takes the pressure (mean of a short while, Pa) and whether the flow meter runs.
    pub fn observe(&mut self, t_s: f64, pressure_pa: f64, is_flowing: bool) {
        let state = if is_flowing {
            TriggerState::Spraying
        } else if pressure_pa < LOW_PA {
            TriggerState::LowReading
        } else {
            TriggerState::Holding
        };
        if state != self.state {
            self.since_s = Some(t_s);
            if state == TriggerState::Spraying {
                // The first edges come after the pressure has begun to fall: what was followed
                // until then is the stalled pressure.
                self.stalled_pa = self.following_pa;
            }
            self.state = state;
        }
        match state {
            TriggerState::Spraying => self.update_sag(pressure_pa),
            _ => self.follow(t_s, pressure_pa),
        }
        self.last_t_s = Some(t_s);
    }

    /// Forgets the state: the line was lost.
    pub fn forget(&mut self) {
        *self = Self::default();
    }

    /// State now.
    #[must_use]
    pub const fn state(&self) -> TriggerState {
        self.state
    }

    /// Logger time since which the state holds.
    #[must_use]
    pub const fn since_s(&self) -> Option<f64> {
        self.since_s
    }

    /// Pressure just before the trigger last opened, Pa.
    #[must_use]
    pub const fn stalled_pa(&self) -> Option<f64> {
        self.stalled_pa
    }

    /// `1 - spraying / stalled` of this burst, or of the last one.
    #[must_use]
    pub const fn sag_ratio(&self) -> Option<f64> {
        self.sag_ratio
    }

    fn update_sag(&mut self, pressure_pa: f64) {
        if let Some(stalled) = self.stalled_pa.filter(|pa| *pa > LOW_PA) {
            self.sag_ratio = Some((1.0 - pressure_pa / stalled).max(0.0));
        }
    }

    /// Follows a rise at once and a fall slowly, so that the fall at the opening of the trigger is
    /// not yet in it when the first edge arrives.
    fn follow(&mut self, t_s: f64, pressure_pa: f64) {
        let elapsed = self.last_t_s.map_or(0.0, |last| (t_s - last).max(0.0));
        self.following_pa = Some(match self.following_pa {
            Some(held) if pressure_pa < held => {
                let share = 1.0 - (-elapsed / STALLED_FOLLOW_S).exp();
                held + (pressure_pa - held) * share.clamp(0.0, 1.0) * 0.2
            }
            _ => pressure_pa,
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pull_of_the_trigger_goes_through_its_states_with_its_sag() {
        let mut trigger = Trigger::default();
        assert_eq!(trigger.state(), TriggerState::Unknown);
        trigger.observe(0.0, 1.0e4, false);
        assert_eq!(trigger.state(), TriggerState::LowReading);
        for k in 1..=20 {
            trigger.observe(f64::from(k) * 0.25, 1.5e7, false);
        }
        assert_eq!(trigger.state(), TriggerState::Holding);
        trigger.observe(5.25, 1.4e7, false);
        trigger.observe(5.5, 1.2e7, true);
        assert_eq!(trigger.state(), TriggerState::Spraying);
        assert_eq!(trigger.since_s(), Some(5.5));
        let sag = trigger.sag_ratio().unwrap();
        assert!((sag - 0.2).abs() < 0.02, "sag {sag}");
    }

    #[test]
    fn sag_is_not_made_from_a_low_reading() {
        let mut trigger = Trigger::default();
        trigger.observe(0.0, 0.0, false);
        trigger.observe(0.3, 0.0, true);
        assert_eq!(trigger.sag_ratio(), None);
    }
}
