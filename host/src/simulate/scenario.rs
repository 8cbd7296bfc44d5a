//! A scenario: a rig, coatings, tips, a person and a plan, from which one recording follows.
//!
//! [`demo`] gives the day at the yard that `tipcurve demo` shows; [`trial`] gives one recording of
//! a chosen kind with its physics drawn from a seed; [`lesson`] a class and two batteries. Every name in either is invented.

pub mod advice;
pub mod clear;
pub mod demo;
pub mod draw;
pub mod lesson;
pub mod plan;
pub mod size;
pub mod trial;

pub use demo::demo;
pub use trial::{TrialKind, trial};

use crate::units::Metre;

use super::fan::Pass;
use super::liquid::Liquid;
use super::meter::FlowMeter;
use super::orifice::Orifice;
use super::restriction::Restriction;
use super::rig::{Loading, RigDesign};
use super::rows::RowForm;
use super::transducer::Transducer;

/// Everything that one recording follows from.
#[derive(Debug, Clone, PartialEq)]
pub struct Scenario {
    /// Name of the recording folder.
    pub name: String,
    /// What it shows, one line.
    pub title: String,
    /// Seed of everything random in its run.
    pub seed: u64,
    /// When logger time was zero.
    pub start: Start,
    /// The rig.
    pub rig: RigDesign,
    /// Tips in the box.
    pub tips: Vec<TipPiece>,
    /// Coatings on the shelf.
    pub liquids: Vec<Liquid>,
    /// Air temperature, K, and relative humidity, 0 to 1.
    pub air: (f64, f64),
    /// What is fitted and filled at the start.
    pub initial: Setting,
    /// Coating temperature at the start, K.
    pub material_k: f64,
    /// How the hand moves.
    pub pass: Pass,
    /// What measures.
    pub instruments: Instruments,
    /// Who works and writes.
    pub person: Person,
    /// What is done, in order.
    pub plan: Vec<Action>,
    /// How it is logged.
    pub logging: Logging,
    /// What a reader of the recording should come to.
    pub expected: Expected,
    /// The same for other tips and coatings of the recording.
    pub others: Vec<Expected>,
}

/// When logger time was zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Start {
    /// Unix time.
    pub unix_s: f64,
    /// Offset of local time from UTC, s.
    pub utc_offset_s: f64,
    /// Whether the settings tell it; the date they always tell.
    pub is_told: bool,
}

/// A tip: what is stamped on it and what it is.
#[derive(Debug, Clone, PartialEq)]
pub struct TipPiece {
    /// Code as stamped.
    pub code: String,
    /// Family word in the notes.
    pub family: String,
    /// Orifice as stamped, thousandths of an inch.
    pub stamped_thou: f64,
    /// Fan width at the reference distance.
    pub fan_width_m: f64,
    /// The opening as it really is.
    pub orifice: Orifice,
    /// Hours sprayed with it.
    pub used_h: f64,
}

impl TipPiece {
    /// A tip of a code of three digits: fan width twice the first in inches, then the orifice (common
    /// practice, no source), with its opening off by `area_error` and its land and edge as given.
    #[must_use]
    pub fn of_code(
        fan_digit: u32,
        thou: u32,
        family: &str,
        area_error: f64,
        land_ratio: f64,
        edge_factor: f64,
    ) -> Self {
        Self {
            code: format!("{fan_digit}{thou:02}"),
            family: family.into(),
            stamped_thou: f64::from(thou),
            fan_width_m: f64::from(fan_digit) * 2.0 * 0.0254,
            orifice: Orifice {
                diameter_m: Metre::from_thou(f64::from(thou)).si() * (1.0 + area_error).sqrt(),
                land_ratio,
                edge_factor,
            },
            used_h: 0.0,
        }
    }
}

/// What is set at the rig: positions in the scenario's lists.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting {
    /// Tip fitted.
    pub tip: usize,
    /// Coating filled.
    pub liquid: usize,
    /// Thinner in it, 0 to 1.
    pub thinner_ratio: f64,
    /// Mark of the dial.
    pub mark: usize,
}

/// What measures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Instruments {
    /// Pressure.
    pub transducer: Transducer,
    /// Flow.
    pub meter: FlowMeter,
    /// Error of the temperature sensors, K.
    pub temperature_error_k: f64,
    /// How fast the logger's clock runs: its seconds over true seconds, less 1, in millionths.
    pub clock_ppm: f64,
}

/// How a person writes the time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TimeStyle {
    /// `HH:MM:SS`
    Seconds,
    /// `HH:MM`
    Minutes,
    /// `~HH:MM`
    About,
    /// RFC 3339 with the offset from UTC.
    Rfc3339,
    /// `t+12.3`, read off the logger.
    LoggerSeconds,
    /// Nothing.
    Empty,
    /// One of the above, row by row, and often nothing.
    Mixed,
}

/// Who works and writes.
#[derive(Debug, Clone, PartialEq)]
pub struct Person {
    /// How the time is written.
    pub style: TimeStyle,
    /// The person's clock less true time, s.
    pub watch_offset_s: f64,
    /// Shortest and longest time from the end of a burst to its note, s.
    pub delay_s: (f64, f64),
    /// Standard deviation of the logarithm of the pressure at which the person sees tails vanish.
    pub grader_spread: f64,
    /// Standard deviation of the logarithm of the film from one strip to the next.
    pub film_spread: f64,
    /// Part of the notes with a comb reading.
    pub comb_ratio: f64,
    /// Part of the notes with a timed catch.
    pub catch_ratio: f64,
    /// Remarks that go into the text column now and then.
    pub remarks: &'static [&'static str],
    /// Part of the notes in which one of the observations is left out.
    pub blank_ratio: f64,
    /// Part of the notes written only together with the next.
    pub late_ratio: f64,
    /// True: every row repeats tip, coating and thinner; false: only where they change.
    pub repeats_setting: bool,
    /// True: the dial's mark is written.
    pub writes_dial: bool,
    /// Coating strained.
    pub strained: bool,
}

/// What kind of pull of the trigger.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PullKind {
    /// Sprayed to be judged.
    Spray,
    /// A short try that nobody writes down.
    Test,
    /// One of three short pulls that mark a time.
    Sync,
}

impl PullKind {
    /// The word in truth files.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Spray => "spray",
            Self::Test => "test",
            Self::Sync => "sync",
        }
    }
}

/// One thing that is done.
#[derive(Debug, Clone, PartialEq)]
pub enum Action {
    /// Time passes, s.
    Wait(f64),
    /// The pump is switched on and the pressure left to rise, s.
    Pressurise(f64),
    /// The pump is switched off and the line relieved, s.
    Relieve(f64),
    /// The dial is turned to a mark; lowered, it may be followed by bleeding the line down.
    Turn {
        /// Position among the marks.
        mark: usize,
        /// Whether the prime valve is opened until the pressure is at the new set one.
        bleed: bool,
    },
    /// Another tip is fitted.
    Fit(usize),
    /// Another coating, or more thinner.
    Fill {
        /// Position among the coatings.
        liquid: usize,
        /// Thinner, 0 to 1.
        thinner_ratio: f64,
    },
    /// The coating is at another temperature, K.
    Temper(f64),
    /// The trigger is pulled.
    Pull {
        /// What for.
        kind: PullKind,
        /// How long, s.
        duration_s: f64,
        /// Whether a note is written of it.
        is_noted: bool,
    },
    /// A blockage begins to build up.
    Block(Restriction),
    /// Everything is cleaned.
    Clean,
    /// Another battery is put in, charged to this ratio.
    SwapBattery(f64),
    /// A name for what follows, where the truth tells states apart.
    Phase(&'static str),
    /// A row is written that describes no burst.
    Write {
        /// The event column.
        event: &'static str,
        /// The text column.
        text: &'static str,
        /// Whether the row tells what is set from now on.
        states_setting: bool,
    },
}

/// How it is logged.
#[derive(Debug, Clone, PartialEq)]
pub enum Logging {
    /// By the logger's firmware, at a sample rate in 1/s.
    Device {
        /// Pressure samples per second.
        sample_rate_hz: u16,
    },
    /// By somebody else's data-acquisition box, as rows.
    Rows(RowForm),
}

/// What a reader of the recording should come to.
#[derive(Debug, Clone, PartialEq)]
pub struct Expected {
    /// Family of the truth files.
    pub family: &'static str,
    /// Finer kind within the family, or empty.
    pub subkind: &'static str,
    /// Labels that count as right, the first being the label.
    pub labels: Vec<&'static str>,
    /// What the verdict is about; its mark is of no meaning.
    pub subject: Setting,
    /// Whether the notes can be lined up at all.
    pub is_alignment_clear: bool,
    /// Why no verdict can be given, where none can.
    pub refusal: Option<&'static str>,
    /// What limits the supply, where it does: `power` or `stroke`.
    pub limit_kind: &'static str,
    /// Advice that may be given and advice that may not.
    pub advice: advice::AdviceWords,
    /// A tip that was not measured, to be predicted at full dial.
    pub asked_tip: Option<TipPiece>,
}

impl Scenario {
    /// What is at the gun and in the pot for a setting at a coating temperature.
    #[must_use]
    pub fn loading(&self, setting: &Setting, material_k: f64) -> Loading {
        Loading {
            orifice: self.tips[setting.tip].orifice,
            liquid: self.liquids[setting.liquid].clone(),
            thinner_ratio: setting.thinner_ratio,
            material_k,
        }
    }

    /// Logger time of a true time, s.
    #[must_use]
    pub fn logger_time_s(&self, true_s: f64) -> f64 {
        true_s * (1.0 + self.instruments.clock_ppm * 1.0e-6)
    }

    /// What the dial says at a mark.
    #[must_use]
    pub fn dial(&self, mark: usize) -> &str {
        let marks = &self.rig.control.marks;
        marks
            .get(mark)
            .or(marks.last())
            .map_or("", |(label, _)| label)
    }
}
