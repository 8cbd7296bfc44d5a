//! Notes as the alignment sees them.

use super::clock_of::Start;
use crate::analysis::align::{AlignBurst, AlignNote, ClockPrior, NoteRole};
use crate::analysis::burst::Burst;
use crate::analysis::clock::ClockModel;
use crate::analysis::group::Setting;
use crate::analysis::steady::SteadyMeasurement;
use crate::recording::Recording;
use crate::recording::notes::{KnownEvent, Note};

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
    match note.known_event() {
        Some(KnownEvent::Sync) => NoteRole::Sync,
        Some(_) => NoteRole::Event,
        // The user's own words beside something seen leave it an observation.
        None if note.event.is_some() && !has_observation => NoteRole::Event,
        None => NoteRole::Observation,
    }
}

/// Notes in order, and what is known of their clock.
pub(super) fn align_list(
    recording: &Recording,
    clock: Option<&ClockModel>,
    notes: &[Note],
    carried: &[Setting],
) -> (Vec<AlignNote>, ClockPrior) {
    let start = Start::of(recording, clock);
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
    let prior = if start.is_known() {
        ClockPrior::Started
    } else {
        ClockPrior::Unknown
    };
    (list, prior)
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
