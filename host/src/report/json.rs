//! `result.json`: the findings as mirror types with stable keys. Described in `RESULT_JSON.md`.
//!
//! SI values with the unit in the key's name; the analysis may change its own types without changing a key
//! here. A number that is not finite is `null`: JSON has none, and a reader must not meet one.
//! Decides nothing; what is computed here (a curve at the recommended pressure) is a call to the analysis.

mod around;
mod bursts;
mod groups;
mod recording;
mod verdicts;

pub(crate) use groups::Refusal;

use serde::Serialize;

use super::Options;
use crate::estimate::bracketed::Bracketed;
use crate::estimate::{Estimate, Interval};
use crate::findings::Findings;
use crate::units::UnitChoice;

/// Name of the format.
pub(crate) const SCHEMA: &str = "tipcurve-result";
/// Version of the format: raised when a key changes its meaning or goes; new keys do not raise it.
pub(crate) const SCHEMA_VERSION: u32 = 1;

/// The whole file.
#[derive(Debug, Serialize)]
pub(crate) struct Document {
    schema: &'static str,
    schema_version: u32,
    made_by: MadeBy,
    units_shown: UnitChoice,
    recording: recording::Recording,
    verdicts: Vec<verdicts::Verdict>,
    groups: Vec<groups::Group>,
    supply_curves: Vec<groups::SupplyCurve>,
    bursts: Vec<bursts::Burst>,
    notes: Vec<bursts::Note>,
    alignment: bursts::Alignment,
    clock: Option<around::Clock>,
    air: Option<around::Air>,
    catches: Vec<around::Catch>,
    stripes: Vec<around::Stripes>,
    defects: Vec<recording::Defect>,
    load_defects: Vec<recording::LoadDefect>,
    rules: recording::Rules,
    files: Vec<String>,
}

/// What made a file, and when.
#[derive(Debug, Serialize)]
pub(crate) struct MadeBy {
    program: &'static str,
    version: &'static str,
    made_at: Option<String>,
}

impl MadeBy {
    /// This program, at a time that the caller read off a clock.
    pub(crate) fn new(made_at: Option<String>) -> Self {
        Self {
            program: env!("CARGO_PKG_NAME"),
            version: env!("CARGO_PKG_VERSION"),
            made_at,
        }
    }
}

impl Document {
    /// Mirrors the findings; `files` are the names of what was written beside the file.
    pub(crate) fn new(
        findings: &Findings,
        units: UnitChoice,
        options: &Options,
        files: Vec<String>,
    ) -> Self {
        Self {
            schema: SCHEMA,
            schema_version: SCHEMA_VERSION,
            made_by: MadeBy::new(options.made_at.clone()),
            units_shown: units,
            recording: recording::Recording::new(findings),
            verdicts: verdicts::mirror(findings),
            groups: groups::mirror(findings, options),
            supply_curves: groups::mirror_supply(findings),
            bursts: bursts::mirror(findings),
            notes: bursts::mirror_notes(findings),
            alignment: bursts::Alignment::new(findings),
            clock: findings.clock.as_ref().map(around::Clock::new),
            air: findings.air.as_ref().map(around::Air::new),
            catches: around::mirror_catches(findings),
            stripes: around::mirror_stripes(findings, options),
            defects: recording::mirror_defects(findings),
            load_defects: recording::mirror_load_defects(findings),
            rules: recording::Rules::new(options),
            files,
        }
    }

    /// The text of the file, indented, with a final newline.
    pub(crate) fn to_text(&self) -> Result<String, serde_json::Error> {
        let mut text = serde_json::to_string_pretty(self)?;
        text.push('\n');
        Ok(text)
    }
}

/// A finite number, or nothing.
pub(crate) fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

/// A value with its uncertainty; the key that holds it names the unit of all but `dof`.
#[derive(Debug, Serialize)]
pub(crate) struct Value {
    value: Option<f64>,
    u_independent: Option<f64>,
    u_common: Option<f64>,
    dof: Option<f64>,
    expanded_95: Option<f64>,
    low_95: Option<f64>,
    high_95: Option<f64>,
}

impl From<&Estimate> for Value {
    fn from(e: &Estimate) -> Self {
        let interval = e.interval_95();
        Self {
            value: finite(e.value),
            u_independent: finite(e.u_independent),
            u_common: finite(e.u_common),
            dof: finite(e.dof),
            expanded_95: finite(e.expanded_95()),
            low_95: finite(interval.low),
            high_95: finite(interval.high),
        }
    }
}

/// A closed interval.
#[derive(Debug, Serialize)]
pub(crate) struct Range {
    low: Option<f64>,
    high: Option<f64>,
}

/// A value with a lopsided interval.
#[derive(Debug, Serialize)]
pub(crate) struct Spread {
    value: Option<f64>,
    low_95: Option<f64>,
    high_95: Option<f64>,
}

impl From<&Bracketed> for Spread {
    fn from(b: &Bracketed) -> Self {
        Self {
            value: finite(b.value),
            low_95: finite(b.interval_95.low),
            high_95: finite(b.interval_95.high),
        }
    }
}

impl From<&Interval> for Range {
    fn from(interval: &Interval) -> Self {
        Self {
            low: finite(interval.low),
            high: finite(interval.high),
        }
    }
}

/// An optional number, `None` when it is not finite either.
pub(crate) fn finite_or_none(value: Option<f64>) -> Option<f64> {
    value.and_then(finite)
}

/// File names that an earlier `result.json` lists; empty for any other text.
pub(crate) fn listed_files(text: &str) -> Vec<String> {
    let Ok(value) = serde_json::from_str::<serde_json::Value>(text) else {
        return Vec::new();
    };
    if value["schema"] != SCHEMA {
        return Vec::new();
    }
    value["files"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|f| f.as_str().map(str::to_owned))
        .collect()
}
