//! Clock times of notes to logger times: by the arrivals of frames where there are any, else by the stated
//! start. A host's clock that drifts or was put right meanwhile is followed only with arrivals.

use crate::analysis::align::NoteClock;
use crate::analysis::clock::{ClockModel, Link, fit_clock};
use crate::recording::notes::NoteTime;
use crate::recording::{Data, Recording};

/// A start that was stated within this of the host's own is the host's, s: a minute, as a person writes it.
const SAME_CLOCK_S: f64 = 60.0;
/// Seconds of a day.
const DAY_S: f64 = 86_400.0;

/// Host clock against logger clock; `None` without a link, or with too few arrivals.
///
/// Host times count from [`crate::recording::DeviceLog::host_epoch_unix_s`].
pub(super) fn clock_model(recording: &Recording) -> Option<ClockModel> {
    match &recording.data {
        Data::Device(log) => fit_clock(&log.arrivals, &Link::default()).ok(),
        Data::Samples(_) => None,
    }
}

/// When logger time was zero, as far as the recording says, and how the host's clock ran since.
pub(super) struct Start<'a> {
    /// Unix time at logger time zero.
    unix_s: Option<f64>,
    since_midnight_s: f64,
    /// The model, with the Unix time that its host times count from.
    model: Option<(&'a ClockModel, f64)>,
}

impl<'a> Start<'a> {
    pub(super) fn of(recording: &Recording, clock: Option<&'a ClockModel>) -> Self {
        let epoch_unix_s = match &recording.data {
            Data::Device(log) => Some(log.host_epoch_unix_s),
            Data::Samples(_) => None,
        };
        let by_arrivals = clock.zip(epoch_unix_s).and_then(|(model, epoch)| {
            let zero_s = epoch + model.segments.first()?.host_time(0.0).value;
            Some((model, epoch, zero_s))
        });
        // A stated start that is not the host's speaks of another clock: notes go by that one.
        let stated = recording.settings.started_at_unix_s;
        let is_host = |zero_s: f64| stated.is_none_or(|s| (s - zero_s).abs() < SAME_CLOCK_S);
        let by_arrivals = by_arrivals.filter(|(_, _, zero_s)| is_host(*zero_s));
        let model = by_arrivals.map(|(model, epoch, _)| (model, epoch));
        let unix_s = by_arrivals
            .map(|(_, _, zero_s)| zero_s)
            .or_else(|| recording.started_unix_s());
        let earliest_clock_s = recording
            .notes
            .iter()
            .filter_map(|n| match n.time {
                NoteTime::Clock {
                    since_midnight_s, ..
                } => Some(since_midnight_s),
                NoteTime::Absolute { unix_s, .. } => Some(unix_s),
                _ => None,
            })
            .reduce(f64::min);
        let since_midnight_s = match unix_s {
            Some(unix) => (unix + recording.settings.utc_offset_s.unwrap_or(0.0)).rem_euclid(DAY_S),
            None => earliest_clock_s.unwrap_or(0.0),
        };
        Self {
            unix_s,
            since_midnight_s,
            model,
        }
    }

    /// Whether the recording says when it began.
    pub(super) fn is_known(&self) -> bool {
        self.unix_s.is_some()
    }

    /// A note's time on the logger's time line, as well as it can be said before the notes are looked at.
    pub(super) fn clock_of(&self, time: &NoteTime) -> NoteClock {
        match time {
            NoteTime::Absolute {
                unix_s,
                resolution_s,
            } => NoteClock::Clock {
                nominal_s: self.logger_s(unix_s - self.unix_s.unwrap_or(self.since_midnight_s)),
                resolution_s: *resolution_s,
            },
            NoteTime::Clock {
                since_midnight_s,
                resolution_s,
            } => NoteClock::Clock {
                nominal_s: self.logger_s(self.since_start(*since_midnight_s)),
                resolution_s: *resolution_s,
            },
            NoteTime::About { since_midnight_s } => NoteClock::About {
                nominal_s: self.logger_s(self.since_start(*since_midnight_s)),
            },
            NoteTime::Logger { t_s } => NoteClock::Logger { t_s: *t_s },
            NoteTime::OrderedOnly => NoteClock::Unknown,
        }
    }

    /// Clock time after the start; a session may run past midnight.
    fn since_start(&self, since_midnight_s: f64) -> f64 {
        let d = since_midnight_s - self.since_midnight_s;
        if d < -0.5 * DAY_S { d + DAY_S } else { d }
    }

    /// Logger time of a time by the host's clock, both since logger time zero.
    ///
    /// A host's clock that was put back shows some times twice: the earlier of the two is taken, and the
    /// alignment's own offset and order have the last word.
    fn logger_s(&self, host_since_start_s: f64) -> f64 {
        let by_model = self
            .model
            .zip(self.unix_s)
            .and_then(|((model, epoch), start)| {
                let times = model.logger_times(start + host_since_start_s - epoch);
                times.first().map(|t| t.value)
            });
        by_model.unwrap_or(host_since_start_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::recording::DeviceLog;
    use crate::recording::settings::Settings;

    const EPOCH: f64 = 1_700_000_000.0;

    /// A logger that a host hears once a second; the host's clock runs by `host`.
    fn recording(host: impl Fn(f64) -> f64) -> Recording {
        let arrivals = (0..600u32)
            .map(|i| {
                let t = f64::from(i);
                (t, host(t) + 0.003 * f64::from(i % 7))
            })
            .collect();
        Recording {
            name: "clock".into(),
            settings: Settings::default(),
            notes: Vec::new(),
            data: Data::Device(DeviceLog {
                arrivals,
                host_epoch_unix_s: EPOCH,
                ..DeviceLog::default()
            }),
            defects: Vec::new(),
            is_simulated: true,
        }
    }

    #[track_caller]
    fn check(host: impl Fn(f64) -> f64, t_s: f64) {
        let r = recording(&host);
        let model = clock_model(&r).unwrap();
        let start = Start::of(&r, Some(&model));
        let note = start.clock_of(&NoteTime::Absolute {
            unix_s: EPOCH + host(t_s),
            resolution_s: 1.0,
        });
        let NoteClock::Clock { nominal_s, .. } = note else {
            panic!("{note:?}");
        };
        assert!((nominal_s - t_s).abs() < 0.02, "{nominal_s} for {t_s}");
    }

    #[test]
    fn a_drifting_host_clock_is_followed() {
        check(|t| t * 1.001, 500.0);
        check(|t| 5.0 + t, 20.0);
    }

    #[test]
    fn a_host_clock_put_right_in_mid_recording_is_followed() {
        let put_forward = |t: f64| if t < 300.0 { t } else { t + 45.0 };
        check(put_forward, 100.0);
        check(put_forward, 450.0);
    }

    #[test]
    fn a_start_by_another_clock_is_not_overruled_by_arrivals() {
        let mut r = recording(|t| t);
        r.settings.started_at_unix_s = Some(EPOCH - 5.0e7);
        let model = clock_model(&r).unwrap();
        let note = NoteTime::Absolute {
            unix_s: EPOCH - 5.0e7 + 30.0,
            resolution_s: 1.0,
        };
        assert!(matches!(
            Start::of(&r, Some(&model)).clock_of(&note),
            NoteClock::Clock { nominal_s, .. } if (nominal_s - 30.0).abs() < 1e-6
        ));
    }

    #[test]
    fn without_arrivals_the_stated_start_counts() {
        let mut r = recording(|t| t);
        r.data = Data::Samples(crate::recording::SampleTable::default());
        r.settings.started_at_unix_s = Some(EPOCH);
        assert_eq!(clock_model(&r), None);
        let start = Start::of(&r, None);
        let note = NoteTime::Absolute {
            unix_s: EPOCH + 12.0,
            resolution_s: 1.0,
        };
        assert!(start.is_known());
        assert!(matches!(
            start.clock_of(&note),
            NoteClock::Clock { nominal_s, .. } if nominal_s == 12.0
        ));
    }
}
