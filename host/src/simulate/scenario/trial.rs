//! One recording of a chosen kind, its physics drawn from a seed.
//!
//! A trial is drawn, sized so that its kind holds by the physics, carried out once, and kept when what
//! truly happened is clear enough to be asked about (see [`super::clear`]); otherwise it is drawn
//! afresh. What is kept is never adjusted afterwards.

use super::super::fan::Pass;
use super::super::fluid_path::FluidPath;
use super::super::liquid::Liquid;
use super::super::random::{Part, RandomStream};
use super::super::rig::{RigDesign, path_of};
use super::super::steady::{SupplyState, settle};
use super::clear::is_clear;
use super::draw::{
    draw_instruments, draw_liquid, draw_marks, draw_pass, draw_person, draw_rows, draw_start,
    draw_tip, draw_wanted,
};
use super::size::{Wanted, size_rig};
use super::{
    Expected, Instruments, Logging, Person, Scenario, Setting, Start, TimeStyle, TipPiece, advice,
};

mod insufficient;
mod limits;
mod moves;

/// The kinds of trial.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TrialKind {
    /// No tails, but the coat runs.
    ApplicationLimit,
    /// Pressure holds, tails remain.
    AtomisationLimit,
    /// The same set-up warm and cold.
    ColdMaterial,
    /// The window is open.
    HealthyWindow,
    /// One or two pressures only.
    TooFewPressures,
    /// The pressure's unit changes half-way.
    UnitMix,
    /// The pressure sensor's range is too small.
    SensorSaturated,
    /// The pressure sensor sticks.
    SensorStuck,
    /// Notes without times, fewer than bursts.
    AmbiguousAlignment,
    /// A tip change whose time cannot be known.
    UnknownTipChange,
    /// Several tips measured, one to predict.
    PumpPrediction,
    /// The inlet becomes narrow.
    RestrictionInlet,
    /// The tip or its filter becomes narrow.
    RestrictionTip,
    /// The motor's power limits the supply.
    SupplyLimitPower,
    /// The stroke rate limits the supply.
    SupplyLimitStroke,
    /// The battery runs down.
    WeakBattery,
    /// The tip is worn.
    WornTip,
}

impl TrialKind {
    /// Every kind.
    pub const ALL: [Self; 17] = [
        Self::ApplicationLimit,
        Self::AtomisationLimit,
        Self::ColdMaterial,
        Self::HealthyWindow,
        Self::TooFewPressures,
        Self::UnitMix,
        Self::SensorSaturated,
        Self::SensorStuck,
        Self::AmbiguousAlignment,
        Self::UnknownTipChange,
        Self::PumpPrediction,
        Self::RestrictionInlet,
        Self::RestrictionTip,
        Self::SupplyLimitPower,
        Self::SupplyLimitStroke,
        Self::WeakBattery,
        Self::WornTip,
    ];

    /// A short name for recordings.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::ApplicationLimit => "application_limit",
            Self::AtomisationLimit => "atomisation_limit",
            Self::ColdMaterial => "cold_material",
            Self::HealthyWindow => "healthy_window",
            Self::TooFewPressures => "too_few_pressures",
            Self::UnitMix => "unit_mix",
            Self::SensorSaturated => "sensor_saturated",
            Self::SensorStuck => "sensor_stuck",
            Self::AmbiguousAlignment => "ambiguous_alignment",
            Self::UnknownTipChange => "unknown_tip_change",
            Self::PumpPrediction => "pump_prediction",
            Self::RestrictionInlet => "restriction_inlet",
            Self::RestrictionTip => "restriction_tip",
            Self::SupplyLimitPower => "supply_limit_power",
            Self::SupplyLimitStroke => "supply_limit_stroke",
            Self::WeakBattery => "weak_battery",
            Self::WornTip => "worn_tip",
        }
    }
}

/// Draws tried before the last one is taken as it is.
const MOST_DRAWS: u64 = 60;

/// The trial of a kind under a seed.
///
/// *Cost*: one to a few runs of the rig, some ten milliseconds each in a release build.
#[must_use]
pub fn trial(kind: TrialKind, seed: u64) -> Scenario {
    let mut attempt = 0;
    loop {
        let scenario = draw_trial(kind, seed, attempt);
        attempt += 1;
        if attempt >= MOST_DRAWS || is_clear(kind, &scenario) {
            return scenario;
        }
    }
}

/// One draw of a kind.
fn draw_trial(kind: TrialKind, seed: u64, attempt: u64) -> Scenario {
    // Kinds and attempts are far apart in seed, so that no two trials share a stream.
    let mixed = seed
        .wrapping_mul(0x9E37_79B9_7F4A_7C15)
        .wrapping_add((kind as u64) << 32)
        .wrapping_add(attempt);
    let mut random = RandomStream::new(mixed, Part::Scenario);
    let mut scenario = match kind {
        TrialKind::ApplicationLimit => limits::application(&mut random),
        TrialKind::AtomisationLimit => limits::atomisation(&mut random),
        TrialKind::HealthyWindow => limits::healthy(&mut random),
        TrialKind::SupplyLimitPower => limits::supply(&mut random, true),
        TrialKind::SupplyLimitStroke => limits::supply(&mut random, false),
        TrialKind::WornTip => limits::worn(&mut random),
        TrialKind::PumpPrediction => limits::prediction(&mut random),
        TrialKind::ColdMaterial => moves::cold(&mut random),
        TrialKind::RestrictionInlet => moves::inlet(&mut random),
        TrialKind::RestrictionTip => moves::tip(&mut random),
        TrialKind::WeakBattery => moves::battery(&mut random),
        TrialKind::TooFewPressures => insufficient::too_few(&mut random),
        TrialKind::UnitMix => insufficient::unit_mix(&mut random),
        TrialKind::SensorSaturated => insufficient::saturated(&mut random),
        TrialKind::SensorStuck => insufficient::stuck(&mut random),
        TrialKind::AmbiguousAlignment => insufficient::ambiguous(&mut random),
        TrialKind::UnknownTipChange => insufficient::unknown_tip(&mut random),
    };
    scenario.seed = mixed;
    scenario.name = format!("{}-{seed}", kind.name());
    scenario.title = format!("trial {}", scenario.name);
    scenario
}

/// What a trial is made of before its kind decides the rest.
struct Draft {
    liquid: Liquid,
    thinner_ratio: f64,
    tip: TipPiece,
    material_k: f64,
    pass: Pass,
    wanted: Wanted,
    rig: RigDesign,
    instruments: Instruments,
    person: Person,
    start: Start,
    air: (f64, f64),
    logging: Logging,
}

impl Draft {
    /// Draws everything; `n_marks` positions on the dial.
    fn new(n_marks: usize, random: &mut RandomStream) -> Self {
        let tip = draw_tip(random);
        Self::with_tip(tip, n_marks, random)
    }

    /// Draws everything but the tip.
    fn with_tip(tip: TipPiece, n_marks: usize, random: &mut RandomStream) -> Self {
        let liquid = draw_liquid(random);
        let thinner = random.pick(&[0.0, 0.0, 0.03, 0.05]);
        let thinner_ratio = f64::min(thinner, liquid.max_thinner_ratio);
        let material_k = 273.15 + random.uniform(12.0, 28.0);
        let full_set_pa = random.uniform(120.0, 230.0) * 1.0e5;
        let marks = draw_marks(n_marks, random);
        let mut wanted = draw_wanted(full_set_pa, 1.0e-5, marks, random);
        let state = liquid.at(material_k, thinner_ratio);
        // The tip alone says what flow the pump must give.
        let bare = path_of(&size_rig(&wanted), &tip.orifice, state, 1.0, 1.0);
        wanted.flow_m3_per_s = bare.at_tip(full_set_pa).flow_m3_per_s;
        let rig = size_rig(&wanted);
        let middle = bare.at_tip(0.6 * full_set_pa).flow_m3_per_s;
        Self {
            pass: draw_pass(random),
            instruments: draw_instruments(full_set_pa, middle, random),
            person: draw_person(random),
            start: draw_start(random),
            air: (
                material_k + random.normal(2.0),
                (random.uniform(0.35, 0.8) * 100.0).round() / 100.0,
            ),
            logging: Logging::Rows(draw_rows(random)),
            liquid,
            thinner_ratio,
            tip,
            material_k,
            wanted,
            rig,
        }
    }

    /// The path with this tip and coating as drawn.
    fn path(&self) -> FluidPath {
        let state = self.liquid.at(self.material_k, self.thinner_ratio);
        path_of(&self.rig, &self.tip.orifice, state, 1.0, 1.0)
    }

    /// Pressure at the tap where the rig settles at full dial.
    fn held_tap_pa(&self) -> f64 {
        let full = SupplyState::full_dial(&self.rig);
        settle(&self.rig, &full, &self.path()).tap_pa(self.rig.tap)
    }

    /// Sets where tails vanish and where the coat runs, as pressures of the tap.
    fn set_thresholds(&mut self, clear_tap_pa: f64, run_tap_pa: f64) {
        let (path, tap) = (self.path(), self.rig.tap);
        let width_m = self.tip.fan_width_m;
        super::size::clear_at(&mut self.liquid, &path, tap, width_m, clear_tap_pa);
        super::size::run_from(
            &mut self.liquid,
            self.thinner_ratio,
            &path,
            tap,
            (width_m, &self.pass),
            run_tap_pa,
        );
    }

    /// Shortest and longest pull, s: long enough for the meter to give two dozen pulses at the
    /// lowest mark.
    fn pull_s(&self) -> (f64, f64) {
        let lowest_pa = self.rig.control.set_pa(0);
        let flow = self.path().at_pump(lowest_pa).flow_m3_per_s;
        let pulses_s = 24.0 / self.instruments.meter.pulse_rate_hz(flow);
        let shortest_s = pulses_s.clamp(3.0, 16.0);
        (shortest_s, shortest_s * 1.3 + 3.0)
    }

    /// The scenario with the given tips (the first one fitted) and plan.
    fn into_scenario(
        self,
        tips: Vec<TipPiece>,
        plan: Vec<super::Action>,
        expected: Expected,
        random: &mut RandomStream,
    ) -> Scenario {
        let has_sync = plan
            .iter()
            .any(|action| matches!(action, super::Action::Write { event: "sync", .. }));
        let mut person = self.person;
        let mut start = self.start;
        if has_sync && person.style != TimeStyle::LoggerSeconds && random.chance(0.15) {
            // A clock that is minutes off, or a start that nobody wrote down: the pulls still tell.
            person.watch_offset_s = random.uniform(-400.0, 400.0);
            start.is_told = random.chance(0.5);
        }
        if person.style == TimeStyle::LoggerSeconds && random.chance(0.3) {
            start.is_told = false;
        }
        Scenario {
            name: String::new(),
            title: String::new(),
            seed: 0,
            start,
            tips,
            liquids: vec![self.liquid],
            air: self.air,
            initial: Setting {
                tip: 0,
                liquid: 0,
                thinner_ratio: self.thinner_ratio,
                mark: 0,
            },
            material_k: self.material_k,
            pass: self.pass,
            instruments: self.instruments,
            person,
            plan,
            logging: self.logging,
            expected,
            others: Vec::new(),
            rig: self.rig,
        }
    }
}

/// What is expected of a case whose verdict is its family.
fn expected(family: &'static str, words: advice::AdviceWords, thinner_ratio: f64) -> Expected {
    Expected {
        family,
        subkind: "",
        labels: vec![family],
        subject: Setting {
            tip: 0,
            liquid: 0,
            thinner_ratio,
            mark: 0,
        },
        is_alignment_clear: true,
        refusal: None,
        limit_kind: "",
        advice: words,
        asked_tip: None,
    }
}
