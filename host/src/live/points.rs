//! Each burst that ends to a point, a curve, a window and words, with the analysis of the report.
//!
//! The bursts are found and measured on the recent signal, once each, when they are final. What
//! follows (notes to bursts, groups, curves, windows, verdict) is the report's own pipeline, run on the
//! measured bursts: the page and the report cannot disagree on a rule. No lock and no clock here.

mod views;
mod words;

use crate::analysis::burst::{Burst, detect_bursts};
use crate::analysis::health::read_zero;
use crate::analysis::signal::Signal;
use crate::analysis::steady::{SteadyMeasurement, measure_burst};
use crate::estimate::Estimate;
use crate::findings::Findings;
use crate::pipeline::{Measured, conclude_measured, flow_meter, pressure_sensor};
use crate::recording::notes::Note;
use crate::recording::settings::Settings;
use crate::recording::{Data, Recording, SampleTable};

use super::bench::Recent;
use super::phrase::Phrase;
use super::snapshot::{BurstView, CurveView, SettingView};

/// A burst is final once this much has passed after its end (see `analysis::burst`).
const FINAL_S: f64 = 3.0;

/// What is kept before a finished burst's end, so that the next one has its pause before it.
const KEEP_S: f64 = 2.5;

/// A pause without a burst is let go up to here before its end.
const IDLE_KEEP_S: f64 = 20.0;

/// The measured bursts so far.
#[derive(Debug)]
pub struct Points {
    settings: Settings,
    name: String,
    bursts: Vec<Burst>,
    steady: Vec<SteadyMeasurement>,
    zero_pa: Option<Estimate>,
    highest_pa: f64,
    notes: Vec<Note>,
    started_at_unix_s: Option<f64>,
}

/// What the page shows of them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PointViews {
    /// Bursts.
    pub bursts: Vec<BurstView>,
    /// Curves.
    pub curves: Vec<CurveView>,
    /// Words.
    pub words: Vec<Phrase>,
    /// What is set now.
    pub setting: SettingView,
}

impl Points {
    /// No bursts yet.
    #[must_use]
    pub fn new(name: String, settings: Settings) -> Self {
        Self {
            settings,
            name,
            bursts: Vec::new(),
            steady: Vec::new(),
            zero_pa: None,
            highest_pa: 0.0,
            notes: Vec::new(),
            started_at_unix_s: None,
        }
    }

    /// Looks for bursts that have become final in the recent signal, measures them and lets go of
    /// what is not needed any more. Gives how many are new.
    pub fn harvest(&mut self, recent: &mut Recent) -> usize {
        let Some(now_s) = recent.last_s() else {
            return 0;
        };
        let signal = recent.signal(
            flow_meter(&self.settings),
            pressure_sensor(&self.settings, self.highest_pa),
        );
        self.learn_zero(&signal);
        let known_to_s = self.bursts.last().map_or(f64::NEG_INFINITY, |b| b.end_s);
        let found = detect_bursts(&signal);
        let mut n_new = 0;
        for burst in found.iter().filter(|b| b.start_s >= known_to_s) {
            if now_s - burst.end_s < FINAL_S {
                break;
            }
            let zero_pa = self.zero_pa.map_or(0.0, |zero| zero.value);
            self.steady.push(measure_burst(&signal, burst, zero_pa));
            self.bursts.push(*burst);
            n_new += 1;
        }
        let is_open = found.iter().any(|b| now_s - b.end_s < FINAL_S);
        if !is_open {
            let last_end_s = self.bursts.last().map_or(f64::NEG_INFINITY, |b| b.end_s);
            recent.forget_before((now_s - IDLE_KEEP_S).max(last_end_s - KEEP_S));
        }
        n_new
    }

    /// Takes the notes as the file has them now, undone ones left out.
    pub fn set_notes(&mut self, notes: Vec<Note>) {
        self.notes = notes;
    }

    /// Takes when logger time was zero, by the arrivals so far.
    pub const fn set_start(&mut self, started_at_unix_s: Option<f64>) {
        self.started_at_unix_s = started_at_unix_s;
    }

    /// Bursts so far.
    #[must_use]
    pub fn n_bursts(&self) -> usize {
        self.bursts.len()
    }

    /// Everything that the page shows of the bursts and notes so far.
    #[must_use]
    pub fn conclude(&self) -> PointViews {
        let findings = self.findings();
        let setting = views::setting(&self.notes);
        PointViews {
            bursts: views::bursts(&findings),
            curves: views::curves(&findings, &setting),
            words: words::say(&findings, &setting),
            setting,
        }
    }

    fn findings(&self) -> Findings {
        let mut settings = self.settings.clone();
        // The session file may give the planned start; what arrived says it better.
        settings.started_at_unix_s = self.started_at_unix_s.or(settings.started_at_unix_s);
        let signal = Signal {
            flow_meter: flow_meter(&self.settings),
            pressure_sensor: pressure_sensor(&self.settings, self.highest_pa),
            ..Signal::default()
        };
        let recording = Recording {
            name: self.name.clone(),
            settings,
            notes: self.notes.clone(),
            data: Data::Samples(SampleTable::default()),
            defects: Vec::new(),
            is_simulated: self.settings.is_simulated,
        };
        let zero_pa =
            self.zero_pa
                .unwrap_or(Estimate::new(0.0, 0.0, signal.pressure_sensor.u_zero_pa));
        conclude_measured(
            &recording,
            Measured {
                signal,
                zero_pa,
                bursts: self.bursts.clone(),
                steady: self.steady.clone(),
                defects: Vec::new(),
            },
        )
    }

    /// The zero is read where the recording began with the line relieved; a later low reading may be a
    /// half-relieved line and is left to the report.
    fn learn_zero(&mut self, signal: &Signal) {
        let highest = signal.pressure_pa.iter().copied().fold(0.0, f64::max);
        self.highest_pa = self.highest_pa.max(highest);
        if self.zero_pa.is_none() && !signal.pressure_pa.is_empty() && self.highest_pa > 2.0e6 {
            let zero = read_zero(signal);
            self.zero_pa = zero.before_pa.map(|_| zero.zero_pa);
        }
    }
}
