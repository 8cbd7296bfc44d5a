//! A scenario as a recording, with its truth: in memory, or as a folder like any other.

use std::convert::Infallible;
use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::Path;

use crate::recording::decode::{Decoded, Decoder};
use crate::recording::folder::{self, CreateError};
use crate::recording::log::{ARRIVAL_INTERVAL_S, Arrival, LogWriter};
use crate::recording::notes::{self, Note};
use crate::recording::{Data, LoadDefect, Recording, samples, settings};

use super::answer::answers;
use super::device::run_logger;
use super::notebook::{WrittenNote, write_notes};
use super::performance::{Performance, perform};
use super::random::{Part, RandomStream};
use super::rows::log_rows;
use super::scenario::{Logging, Scenario};
use super::session::settings_of;
use super::truth::Truth;

/// Name of the truth inside a simulated recording's folder: a JSON list, one entry a subject.
pub const TRUTH: &str = "truth.json";

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
    let mut arrivals = Vec::new();
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
                arrivals.push(Arrival {
                    end_byte: bytes.len() as u64,
                    host_unix_s,
                });
            }
            Ok::<(), Infallible>(())
        },
    );
    let Ok(n_samples) = taken;
    let mut decoder = Decoder::new();
    for arrival in arrivals {
        decoder.push_arrival(arrival);
    }
    decoder.push(&bytes);
    let Decoded { log, defects, .. } = decoder.finish();
    (Data::Device(log), defects, n_samples)
}

/// Carries a scenario out into a new recording folder: the firmware's bytes as they arrived (or rows), notes,
/// settings, and the truth as [`TRUTH`]. Returns the truths, the subject's first.
///
/// # Errors
/// A folder that is there already, or what the system says; nothing is left behind then.
pub fn run(scenario: &Scenario, path: &Path) -> Result<Vec<Truth>, CreateError> {
    let outcome = carry_out(scenario);
    let mut truths = Vec::new();
    folder::create_whole(path, |new| {
        let n_samples = write_log(scenario, &outcome, new)?;
        truths = answers(scenario, &outcome.performance, &outcome.notes, n_samples);
        let rows: Vec<Note> = outcome.notes.iter().map(|w| w.note.clone()).collect();
        let offset_s = scenario.start.utc_offset_s;
        fs::write(new.join(folder::NOTES), notes::write(&rows, offset_s))?;
        let session = settings::write(&settings_of(scenario));
        fs::write(new.join(folder::SESSION), session)?;
        let json = serde_json::to_string(&truths).map_err(io::Error::other)?;
        fs::write(new.join(TRUTH), json)
    })?;
    Ok(truths)
}

/// Writes the sensors' part of a folder. Returns its rows or samples.
fn write_log(scenario: &Scenario, outcome: &Outcome, new: &Path) -> io::Result<usize> {
    match &scenario.logging {
        Logging::Device { sample_rate_hz } => {
            let mut writer = LogWriter::create(new)?;
            let n_samples = run_logger(
                scenario,
                &outcome.performance,
                &outcome.edges_s,
                *sample_rate_hz,
                |portion, host_unix_s| writer.append_unsynced(portion, host_unix_s),
            )?;
            writer.sync()?;
            Ok(n_samples)
        }
        Logging::Rows(form) => {
            let table = log_rows(scenario, &outcome.performance, &outcome.edges_s, form);
            let n_rows = table.t_s.len();
            let mut to = BufWriter::new(File::create(new.join(folder::SAMPLES))?);
            samples::write(&Data::Samples(table), &mut to)?;
            to.flush()?;
            Ok(n_rows)
        }
    }
}
