//! What the trigger does now, from the newest readings: a display, not the burst detection of the
//! analysis.

use std::collections::VecDeque;

use super::snapshot::TriggerState;

/// Below this a reading is called low. Two bar is above the zero error of a 400 bar transducer
/// and far below any spraying pressure. It never means that the line is safe.
pub const LOW_PA: f64 = 2.0e5;

/// The first edge is known this long after the pull at most: a slow meter's half second, the half second
/// that an edge may wait in the logger, and the mean of the figure.
const BEFORE_S: f64 = 1.3;

/// Readings of one burst that its sag is made of, at most.
const MOST_READINGS: usize = 20_000;

/// Follows the trigger.
#[derive(Debug, Default)]
pub struct Trigger {
    state: TriggerState,
    since_s: Option<f64>,
    /// Pressures of the last [`BEFORE_S`] with the trigger closed.
    before: VecDeque<(f64, f64)>,
    /// Sags of this burst so far.
    sags: Vec<f64>,
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
                self.open();
            } else if self.state == TriggerState::Spraying {
                self.close();
            }
            self.state = state;
        }
        match state {
            TriggerState::Spraying => self.update_sag(pressure_pa),
            _ => self.remember(t_s, pressure_pa),
        }
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

    /// The pressure has begun to fall before the first edge is known: the stalled one is the highest
    /// of the time before.
    fn open(&mut self) {
        let pressures = self.before.iter().map(|(_, pa)| *pa);
        self.stalled_pa = pressures.reduce(f64::max);
        self.before.clear();
        self.sags.clear();
    }

    /// The pressure has risen again before the meter is known to stand: the sag of the burst is the
    /// middle one of all that were seen.
    fn close(&mut self) {
        let middle = self.sags.len() / 2;
        if !self.sags.is_empty() {
            let (_, sag, _) = self.sags.select_nth_unstable_by(middle, f64::total_cmp);
            self.sag_ratio = Some(*sag);
        }
    }

    fn update_sag(&mut self, pressure_pa: f64) {
        if let Some(stalled) = self.stalled_pa.filter(|pa| *pa > LOW_PA) {
            let sag = (1.0 - pressure_pa / stalled).max(0.0);
            self.sag_ratio = Some(sag);
            if self.sags.len() < MOST_READINGS {
                self.sags.push(sag);
            }
        }
    }

    fn remember(&mut self, t_s: f64, pressure_pa: f64) {
        self.before.push_back((t_s, pressure_pa));
        let is_old = |(at_s, _): &(f64, f64)| *at_s < t_s - BEFORE_S || *at_s > t_s;
        while self.before.front().is_some_and(is_old) {
            self.before.pop_front();
        }
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
    fn a_dial_turned_down_is_not_taken_for_sag_nor_the_rise_at_the_end_for_none() {
        let mut trigger = Trigger::default();
        let mut t_s = 0.0;
        let mut hold = |trigger: &mut Trigger, seconds: f64, pa: f64, is_flowing: bool| {
            let end_s = t_s + seconds;
            while t_s < end_s {
                trigger.observe(t_s, pa, is_flowing);
                t_s += 0.1;
            }
        };
        hold(&mut trigger, 5.0, 1.8e7, false);
        hold(&mut trigger, 2.0, 8.0e6, false);
        hold(&mut trigger, 3.0, 7.2e6, true);
        hold(&mut trigger, 0.6, 8.0e6, true);
        hold(&mut trigger, 1.0, 8.0e6, false);
        assert_eq!(trigger.stalled_pa(), Some(8.0e6));
        assert!((trigger.sag_ratio().unwrap() - 0.1).abs() < 1e-9);
    }

    #[test]
    fn sag_is_not_made_from_a_low_reading() {
        let mut trigger = Trigger::default();
        trigger.observe(0.0, 0.0, false);
        trigger.observe(0.3, 0.0, true);
        assert_eq!(trigger.sag_ratio(), None);
    }
}
