//! A scenario as a recording in memory, with its truth.

use crate::recording::{Data, Recording};

use super::answer::answer;
use super::notebook::write_notes;
use super::performance::perform;
use super::random::{Part, RandomStream};
use super::rows::log_rows;
use super::scenario::{Logging, Scenario};
use super::session::settings_of;
use super::truth::Truth;

/// Carries a scenario out and records it.
///
/// *Cost*: see [`perform`]; logging adds about as much again.
#[must_use]
pub fn to_recording(scenario: &Scenario) -> (Recording, Truth) {
    let performance = perform(scenario);
    let notes = write_notes(scenario, &performance);
    let mut random = RandomStream::new(scenario.seed, Part::Meter);
    let edges_s = scenario
        .instruments
        .meter
        .edges(&performance.trace, &mut random);
    let (data, n_samples) = match &scenario.logging {
        Logging::Rows(form) => {
            let table = log_rows(scenario, &performance, &edges_s, form);
            let n_rows = table.t_s.len();
            (Data::Samples(table), n_rows)
        }
        Logging::Device { .. } => todo!(),
    };
    let truth = answer(scenario, &performance, &notes, n_samples);
    let recording = Recording {
        name: scenario.name.clone(),
        settings: settings_of(scenario),
        notes: notes.into_iter().map(|written| written.note).collect(),
        data,
        defects: Vec::new(),
        is_simulated: true,
    };
    (recording, truth)
}
