//! Notes as the alignment sees them.

use crate::analysis::align::{AlignBurst, AlignNote, ClockPrior, NoteClock, NoteRole};
use crate::analysis::burst::Burst;
use crate::analysis::group::Setting;
use crate::analysis::steady::SteadyMeasurement;
use crate::recording::notes::{Note, NoteTime};
use crate::recording::{Data, Recording};

/// Seconds of a day.
const DAY_S: f64 = 86_400.0;

/// The cells of a note that carry forward.
pub(crate) fn setting_cells(note: &Note) -> Setting {
    Setting {
        tip: note.tip.clone(),
        tip_family: note.tip_family.clone(),
        material: note.material.clone(),
        thinner_ratio: note.thinner_ratio,
        dial: note.dial.clone(),
        strained: note.strained,
    }
}

/// What a note is: a sync mark, something done, or something seen.
fn role_of(note: &Note) -> NoteRole {
    let has_observation = note.tails.is_some()
        || note.runs.is_some()
        || note.comb_m.is_some()
        || note.catch_kg.is_some();
    match note.event.as_deref() {
        Some("sync") => NoteRole::Sync,
        Some(_) if !has_observation => NoteRole::Event,
        Some("tip_changed" | "setup" | "relieved" | "battery_swap" | "filter_cleaned") => {
            NoteRole::Event
        }
        _ => NoteRole::Observation,
    }
}

/// Notes in order, and what is known of their clock.
pub(super) fn align_list(
    recording: &Recording,
    notes: &[Note],
    carried: &[Setting],
) -> (Vec<AlignNote>, ClockPrior) {
    let start = Start::of(recording);
    let list = notes
        .iter()
        .zip(carried)
        .map(|(note, setting)| AlignNote {
            role: role_of(note),
            clock: start.clock_of(&note.time),
            dial: setting.dial.clone(),
            group_key: setting.group_key(),
            observed: format!("{:?} {:?}", note.tails, note.runs),
        })
        .collect();
    let prior = if start.unix_s.is_some() {
        ClockPrior::Started
    } else {
        ClockPrior::Unknown
    };
    (list, prior)
}

/// When logger time was zero, as far as the recording says.
struct Start {
    unix_s: Option<f64>,
    since_midnight_s: f64,
}

impl Start {
    fn of(recording: &Recording) -> Self {
        let from_device = match &recording.data {
            Data::Device(log) => log
                .arrivals
                .iter()
                .map(|(logger, host)| log.host_epoch_unix_s + host - logger)
                .reduce(f64::min),
            Data::Samples(_) => None,
        };
        let unix_s = recording.settings.started_at_unix_s.or(from_device);
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
        }
    }

    fn clock_of(&self, time: &NoteTime) -> NoteClock {
        match time {
            NoteTime::Absolute {
                unix_s,
                resolution_s,
            } => NoteClock::Clock {
                nominal_s: unix_s - self.unix_s.unwrap_or(self.since_midnight_s),
                resolution_s: *resolution_s,
            },
            NoteTime::Clock {
                since_midnight_s,
                resolution_s,
            } => NoteClock::Clock {
                nominal_s: self.since_start(*since_midnight_s),
                resolution_s: *resolution_s,
            },
            NoteTime::About { since_midnight_s } => NoteClock::About {
                nominal_s: self.since_start(*since_midnight_s),
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
}

/// Bursts with their spraying pressures.
pub(super) fn align_bursts(bursts: &[Burst], steady: &[SteadyMeasurement]) -> Vec<AlignBurst> {
    bursts
        .iter()
        .zip(steady)
        .map(|(burst, steady)| AlignBurst {
            burst: *burst,
            spraying_pa: steady.pressure_pa.map(|p| p.value),
        })
        .collect()
}
