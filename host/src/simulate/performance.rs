//! The plan carried out: the person works the rig, and what truly happened is kept.
//!
//! Out come the trace, every pull of the trigger with its true means, and every occasion on which the
//! person reaches for the notebook. Nothing is measured or written here yet.

use crate::recording::settings::Tap;

use super::battery::BatteryState;
use super::fluid_path::FluidPath;
use super::random::{Part, RandomStream};
use super::restriction::RestrictionPlace;
use super::rig::RunningRig;
use super::scenario::{Action, PullKind, Scenario, Setting};
use super::trace::{Trace, mean_between};

/// Part of a burst, from its start, that counts as opening transient in the truth.
const TRANSIENT_RATIO: f64 = 0.3;

/// One pull of the trigger as it truly was. Times are true time.
#[derive(Debug, Clone, PartialEq)]
pub struct Pulled {
    /// What for.
    pub kind: PullKind,
    /// When the trigger was pulled.
    pub start_s: f64,
    /// When it was let go.
    pub end_s: f64,
    /// From when on it counts as steady.
    pub steady_from_s: f64,
    /// What was set.
    pub setting: Setting,
    /// State that the truth tells apart; `transition` while one changes into another.
    pub phase: &'static str,
    /// Coating temperature.
    pub material_k: f64,
    /// The path at its end.
    pub path: FluidPath,
    /// Mean pump pressure of the steady part.
    pub pump_pa: f64,
    /// Mean pressure at the tap of the steady part.
    pub tap_pa: f64,
    /// Mean flow of the steady part.
    pub flow_m3_per_s: f64,
}

impl Pulled {
    /// Whether its curve is that of one state.
    #[must_use]
    pub fn is_of_one_state(&self) -> bool {
        self.phase != "transition"
    }
}

/// One occasion to write a row.
#[derive(Debug, Clone, PartialEq)]
pub struct Occasion {
    /// True time from which the person can write it.
    pub at_s: f64,
    /// The burst that it describes.
    pub burst: Option<usize>,
    /// Event column.
    pub event: &'static str,
    /// Text column.
    pub text: &'static str,
    /// What is set.
    pub setting: Setting,
    /// Whether the row tells what is set although it describes no burst.
    pub states_setting: bool,
}

/// What truly happened.
#[derive(Debug, Clone)]
pub struct Performance {
    /// Pressures and flow.
    pub trace: Trace,
    /// Pulls of the trigger in order.
    pub pulls: Vec<Pulled>,
    /// Occasions to write, in order.
    pub occasions: Vec<Occasion>,
    /// The battery at the end.
    pub battery_at_end: BatteryState,
    /// Part of the inlet's capacity left at the end.
    pub inlet_openness_at_end: f64,
}

/// Carries out a scenario's plan.
///
/// *Cost*: about a million steps of the rig a minute of real time on one core, a step being a millisecond.
#[must_use]
pub fn perform(scenario: &Scenario) -> Performance {
    let loading = scenario.loading(&scenario.initial, scenario.material_k);
    let mut worker = Worker {
        scenario,
        rig: RunningRig::new(&scenario.rig, loading, scenario.seed),
        hand: RandomStream::new(scenario.seed, Part::Hand),
        setting: scenario.initial,
        phase: "",
        pulls: Vec::new(),
        occasions: Vec::new(),
    };
    worker.rig.turn_dial(scenario.initial.mark);
    for action in &scenario.plan {
        worker.act(action);
    }
    Performance {
        battery_at_end: worker.rig.battery(),
        inlet_openness_at_end: worker.rig.openness(RestrictionPlace::Inlet),
        pulls: worker.pulls,
        occasions: worker.occasions,
        trace: worker.rig.into_trace(),
    }
}

struct Worker<'a> {
    scenario: &'a Scenario,
    rig: RunningRig<'a>,
    hand: RandomStream,
    setting: Setting,
    phase: &'static str,
    pulls: Vec<Pulled>,
    occasions: Vec<Occasion>,
}

impl Worker<'_> {
    fn act(&mut self, action: &Action) {
        match action {
            Action::Wait(duration_s) => self.rig.run(*duration_s, false),
            Action::Pressurise(duration_s) => {
                self.rig.switch(true);
                self.rig.run(*duration_s, false);
            }
            Action::Relieve(duration_s) => self.rig.relieve(*duration_s),
            Action::Turn { mark, bleed } => {
                self.setting.mark = *mark;
                self.rig.turn_dial(*mark);
                if *bleed {
                    self.rig.bleed();
                }
            }
            Action::Fit(tip) => {
                self.setting.tip = *tip;
                self.rig.fit_tip(self.scenario.tips[*tip].orifice);
            }
            Action::Fill {
                liquid,
                thinner_ratio,
            } => {
                self.setting.liquid = *liquid;
                self.setting.thinner_ratio = *thinner_ratio;
                self.rig
                    .fill(self.scenario.liquids[*liquid].clone(), *thinner_ratio);
            }
            Action::Temper(material_k) => self.rig.bring_material_to(*material_k),
            Action::Pull {
                kind,
                duration_s,
                is_noted,
            } => self.pull(*kind, *duration_s, *is_noted),
            Action::Block(restriction) => self.rig.begin_restriction(*restriction),
            Action::Clean => self.rig.clean(),
            Action::SwapBattery(charge_ratio) => self.rig.swap_battery(*charge_ratio),
            Action::Phase(phase) => self.phase = phase,
            Action::Write {
                event,
                text,
                states_setting,
            } => self.occasions.push(Occasion {
                at_s: self.rig.now_s(),
                burst: None,
                event,
                text,
                setting: self.setting,
                states_setting: *states_setting,
            }),
        }
    }

    fn pull(&mut self, kind: PullKind, duration_s: f64, is_noted: bool) {
        // No hand holds a trigger for an exact time.
        let duration_s = duration_s * (1.0 + self.hand.normal(0.03)).clamp(0.9, 1.1);
        let was_open = self.rig.nozzle_openness();
        let start_s = self.rig.now_s();
        self.rig.run(duration_s, true);
        let end_s = self.rig.now_s();
        let has_changed = (self.rig.nozzle_openness() / was_open - 1.0).abs() > 0.002;
        let steady_from_s = start_s + TRANSIENT_RATIO * (end_s - start_s);
        let trace = self.rig.trace();
        let mean = |column: &[f64]| mean_between(column, steady_from_s, end_s);
        let tap: Tap = self.scenario.rig.tap;
        self.pulls.push(Pulled {
            kind,
            start_s,
            end_s,
            steady_from_s,
            setting: self.setting,
            phase: if has_changed {
                "transition"
            } else {
                self.phase
            },
            material_k: self.rig.material_k(),
            path: self.rig.path(),
            pump_pa: mean(&trace.pump_pa),
            tap_pa: mean(trace.tap_pa(tap)),
            flow_m3_per_s: mean(&trace.flow_m3_per_s),
        });
        if is_noted {
            self.occasions.push(Occasion {
                at_s: end_s,
                burst: Some(self.pulls.len() - 1),
                event: "",
                text: "",
                setting: self.setting,
                states_setting: true,
            });
        }
    }
}
