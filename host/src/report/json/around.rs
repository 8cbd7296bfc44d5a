//! What stands around the trial: the host's clock, the air, timed catches.

use serde::Serialize;

use super::{Value, finite};
use crate::analysis::clock::ClockModel;
use crate::findings::{Air as AirFinding, Findings};
use crate::report::Options;
use crate::report::card_data::stripes;

#[derive(Debug, Serialize)]
pub(crate) struct Clock {
    n_arrivals: usize,
    /// Of the first stretch.
    drift_ratio: Option<Value>,
    greatest_delay_s: Option<f64>,
    jumps: Vec<Jump>,
    n_unknown_stretches: usize,
}

#[derive(Debug, Serialize)]
struct Jump {
    from_s: Option<f64>,
    to_s: Option<f64>,
    size_s: Value,
}

impl Clock {
    pub(crate) fn new(model: &ClockModel) -> Self {
        let delays = model.segments.iter().map(|s| s.greatest_delay_s);
        Self {
            n_arrivals: model.segments.iter().map(|s| s.n_arrivals).sum(),
            drift_ratio: model.segments.first().map(|s| Value::from(&s.drift)),
            greatest_delay_s: delays.reduce(f64::max).and_then(finite),
            jumps: model
                .jumps
                .iter()
                .map(|j| Jump {
                    from_s: finite(j.between_s.low),
                    to_s: finite(j.between_s.high),
                    size_s: Value::from(&j.size_s),
                })
                .collect(),
            n_unknown_stretches: model.unknown_s.len(),
        }
    }
}

/// Film across the passes at one overlap, by an assumed fan.
#[derive(Debug, Serialize)]
pub(crate) struct Stripes {
    overlap_ratio: Option<f64>,
    least_film_ratio: Option<f64>,
    greatest_film_ratio: Option<f64>,
    place_ratio: Vec<Option<f64>>,
    film_ratio: Vec<Option<f64>>,
}

/// One entry a line of the figure; empty where the figure is not drawn.
pub(crate) fn mirror_stripes(f: &Findings, options: &Options) -> Vec<Stripes> {
    let numbers = |list: &[f64]| list.iter().map(|x| finite(*x)).collect();
    stripes(f, options)
        .iter()
        .map(|line| Stripes {
            overlap_ratio: finite(line.overlap_ratio),
            least_film_ratio: finite(line.stripes.least_ratio),
            greatest_film_ratio: finite(line.stripes.greatest_ratio),
            place_ratio: numbers(&line.stripes.place_ratio),
            film_ratio: numbers(&line.stripes.film_ratio),
        })
        .collect()
}

#[derive(Debug, Serialize)]
pub(crate) struct Air {
    air_k: Value,
    humidity_ratio: Value,
    dew_point_k: Value,
    least_surface_k: Option<f64>,
}

impl Air {
    pub(crate) fn new(air: &AirFinding) -> Self {
        Self {
            air_k: Value::from(&air.air_k),
            humidity_ratio: Value::from(&air.humidity_ratio),
            dew_point_k: Value::from(&air.dew_point_k),
            least_surface_k: finite(air.least_surface_k),
        }
    }
}

#[derive(Debug, Serialize)]
pub(crate) struct Catch {
    note_index: usize,
    burst_index: usize,
    burst_number: usize,
    metered_over_caught_ratio: Option<Value>,
    missing: Option<String>,
}

pub(crate) fn mirror_catches(findings: &Findings) -> Vec<Catch> {
    findings
        .catches
        .iter()
        .map(|c| Catch {
            note_index: c.note_index,
            burst_index: c.burst_index,
            burst_number: c.burst_index + 1,
            metered_over_caught_ratio: c.metered_over_caught.as_ref().ok().map(Value::from),
            missing: c.metered_over_caught.as_ref().err().cloned(),
        })
        .collect()
}
