//! A scenario as a recording, with its truth: in memory, or as a folder like any other.

use std::convert::Infallible;
use std::path::Path;

use crate::recording::decode::{Decoded, Decoder};
use crate::recording::log::{ARRIVAL_INTERVAL_S, Arrival};
use crate::recording::{Data, LoadDefect, Recording};

use super::answer::answers;
use super::device::run_logger;
use super::notebook::{WrittenNote, write_notes};
use super::performance::{Performance, perform};
use super::random::{Part, RandomStream};
use super::rows::log_rows;
use super::scenario::{Logging, Scenario};
use super::session::settings_of;
use super::truth::Truth;

/// Everything of a scenario but its log.
struct Outcome {
    performance: Performance,
    edges_s: Vec<f64>,
    notes: Vec<WrittenNote>,
}

fn carry_out(scenario: &Scenario) -> Outcome {
    let performance = perform(scenario);
    let mut random = RandomStream::new(scenario.seed, Part::Meter);
    let meter = &scenario.instruments.meter;
    Outcome {
        edges_s: meter.edges(&performance.trace, &mut random),
        notes: write_notes(scenario, &performance),
        performance,
    }
}

/// Carries a scenario out and records it in memory, with the truth of its subject.
///
/// *Cost*: see [`perform`]; logging adds about as much again.
#[must_use]
pub fn to_recording(scenario: &Scenario) -> (Recording, Truth) {
    let (recording, mut truths) = to_recording_with_all(scenario);
    (recording, truths.swap_remove(0))
}

/// As [`to_recording`], with one truth for each setting that the scenario says something of: its subject
/// first, then the others.
#[must_use]
pub fn to_recording_with_all(scenario: &Scenario) -> (Recording, Vec<Truth>) {
    let outcome = carry_out(scenario);
    let (data, defects, n_samples) = match &scenario.logging {
        Logging::Rows(form) => {
            let table = log_rows(scenario, &outcome.performance, &outcome.edges_s, form);
            let n_rows = table.t_s.len();
            (Data::Samples(table), Vec::new(), n_rows)
        }
        Logging::Device { sample_rate_hz } => log_device(scenario, &outcome, *sample_rate_hz),
    };
    let truths = answers(scenario, &outcome.performance, &outcome.notes, n_samples);
    let recording = Recording {
        name: scenario.name.clone(),
        settings: settings_of(scenario),
        notes: outcome.notes.into_iter().map(|w| w.note).collect(),
        data,
        defects,
        is_simulated: true,
    };
    (recording, truths)
}

/// The firmware's bytes, decoded as a recording folder's are.
fn log_device(
    scenario: &Scenario,
    outcome: &Outcome,
    sample_rate_hz: u16,
) -> (Data, Vec<LoadDefect>, usize) {
    let mut bytes = Vec::new();
    let mut decoder = Decoder::new();
    let mut listed_s = f64::NEG_INFINITY;
    let taken = run_logger(
        scenario,
        &outcome.performance,
        &outcome.edges_s,
        sample_rate_hz,
        |portion, host_unix_s| {
            bytes.extend_from_slice(portion);
            if host_unix_s - listed_s >= ARRIVAL_INTERVAL_S {
                listed_s = host_unix_s;
                decoder.push_arrival(Arrival {
                    end_byte: bytes.len() as u64,
                    host_unix_s,
                });
            }
            Ok::<(), Infallible>(())
        },
    );
    let Ok(n_samples) = taken;
    decoder.reserve_for(bytes.len() as u64);
    decoder.push(&bytes);
    let Decoded { log, defects, .. } = decoder.finish();
    (Data::Device(log), defects, n_samples)
}
