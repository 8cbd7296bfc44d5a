//! A day at an invented yard that refits narrowboats: what `tipcurve demo` shows.
//!
//! Three recordings. In the morning the bench pump sprays cabin enamel: tip `313` has an open window;
//! tip `415` has one too, until skin from the unstrained enamel builds up in it. In the afternoon the
//! cordless cup pump tries the hull primer with `209`: tails at full pressure, an atomisation limit;
//! then enamel with `521`, which is too much for it: a supply limit. In the evening it sprays locker
//! stain with an old `311`, worn, and enamel with the cleaned `415` until the battery gives in. Yard,
//! coatings, rigs and numbers are invented; so is everything that follows.

use crate::recording::settings::Tap;

use super::super::fan::Pass;
use super::super::liquid::Liquid;
use super::super::meter::FlowMeter;
use super::super::performance::perform;
use super::super::pump::Motion;
use super::super::random::{Part, RandomStream};
use super::super::restriction::{Restriction, RestrictionPlace};
use super::super::rig::{RigDesign, Supply, path_of};
use super::super::transducer::{PressureFault, Transducer};
use super::plan::PlanBuilder;
use super::size::{Wanted, clear_at, run_from, size_rig};
use super::{
    Action, Expected, Instruments, Logging, Person, Scenario, Setting, Start, TimeStyle, TipPiece,
    advice,
};

/// Coatings by position.
const PRIMER: usize = 0;
pub(super) const ENAMEL: usize = 1;
const STAIN: usize = 2;

/// Tips by position.
const TIP_209: usize = 0;
const TIP_311: usize = 1;
pub(super) const TIP_313: usize = 2;
pub(super) const TIP_415: usize = 3;
pub(super) const TIP_521: usize = 4;

/// Temperature of shop and coatings.
pub(super) const SHOP_K: f64 = 293.15;

/// The day's recordings, in order.
///
/// The seed changes noise, hand and eye; what the day shows stays.
#[must_use]
pub fn demo(seed: u64) -> Vec<Scenario> {
    vec![morning(seed), afternoon(seed), evening(seed)]
}

/// Bench pump, cabin enamel: an open window, then a tip that blocks and is cleaned.
fn morning(seed: u64) -> Scenario {
    let mut random = RandomStream::new(seed, Part::Scenario);
    let mut plan = PlanBuilder::new(&mut random, (5.0, 8.0), (4.0, 9.0));
    plan.open(0);
    plan.sync();
    plan.act(set_up("cabin side, port; enamel fresh from the tin"));
    plan.rounds(&[0, 1, 2, 3, 4], 2);
    plan.change_tip(TIP_415, 2, true);
    plan.act(Action::Phase("before"));
    plan.rounds(&[0, 1, 2, 3, 4], 2);
    plan.act(Action::Phase("after"));
    plan.block(Restriction::new(RestrictionPlace::Tip, 0.70, 9.0));
    plan.rounds(&[1, 2, 3, 4], 2);
    plan.close();
    let plan = plan.finish();
    let mut day = Day {
        part: 0,
        name: "narrowboat-1-morning",
        title: "bench pump, cabin enamel: 313 in order, 415 blocks",
        rig: bench_pump(),
        first: setting(TIP_313, ENAMEL),
        plan,
        start_h: 9.2,
        style: TimeStyle::Seconds,
        watch_offset_s: 41.0,
    }
    .scenario(seed);
    day.expected = expected("restriction_tip", TIP_415, ENAMEL, advice::BLOCKED_TIP);
    day.others = vec![expected("healthy_window", TIP_313, ENAMEL, advice::HEALTHY)];
    day.person.strained = false;
    day
}

/// Cordless pump: primer through a fine tip, then enamel through a tip that is too large.
fn afternoon(seed: u64) -> Scenario {
    let mut random = RandomStream::new(seed.wrapping_add(1), Part::Scenario);
    let mut plan = PlanBuilder::new(&mut random, (9.0, 13.0), (4.0, 9.0));
    plan.open(0);
    plan.sync();
    plan.act(set_up("rudder and stern, primer as it is"));
    plan.rounds(&[0, 1, 2, 3, 4], 2);
    plan.relieve();
    plan.act(Action::Fit(TIP_521));
    plan.act(Action::Fill {
        liquid: ENAMEL,
        thinner_ratio: 0.0,
    });
    plan.act(Action::Write {
        event: "tip_changed",
        text: "cup rinsed, enamel for the roof",
        states_setting: true,
    });
    plan.act(Action::Wait(35.0));
    plan.press(0);
    plan.rounds(&[0, 1, 2, 3, 4], 2);
    plan.close();
    let plan = plan.finish();
    let mut day = Day {
        part: 1,
        name: "narrowboat-2-afternoon",
        title: "cordless cup pump: primer through 209, enamel through 521",
        rig: cordless_pump(0.95),
        first: setting(TIP_209, PRIMER),
        plan,
        start_h: 13.6,
        style: TimeStyle::Minutes,
        watch_offset_s: -12.0,
    }
    .scenario(seed);
    day.expected = expected("supply_limit", TIP_521, ENAMEL, advice::SUPPLY);
    day.expected.limit_kind = "stroke";
    day.others = vec![expected(
        "atomisation_limit",
        TIP_209,
        PRIMER,
        advice::ATOMISATION,
    )];
    day
}

/// Cordless pump: stain through a worn tip, then enamel until the battery gives in.
fn evening(seed: u64) -> Scenario {
    let mut random = RandomStream::new(seed.wrapping_add(2), Part::Scenario);
    let mut plan = PlanBuilder::new(&mut random, (7.0, 11.0), (3.0, 7.0));
    plan.open(0);
    plan.sync();
    plan.act(set_up("lockers, stain; the old 311"));
    plan.rounds(&[1, 2, 3, 4], 2);
    plan.relieve();
    plan.act(Action::Fit(TIP_415));
    plan.act(Action::Fill {
        liquid: ENAMEL,
        thinner_ratio: 0.0,
    });
    plan.act(Action::Write {
        event: "tip_changed",
        text: "cup rinsed, enamel for the doors, 415 cleaned at noon",
        states_setting: true,
    });
    plan.act(Action::Wait(35.0));
    plan.press(0);
    plan.rounds(&[1, 2, 3, 4], 2);
    for mark in [4, 3, 4, 4, 4, 4, 4] {
        plan.spray(mark);
    }
    plan.close();
    let plan = plan.finish();
    let mut day = Day {
        part: 2,
        name: "narrowboat-3-evening",
        title: "cordless cup pump: stain through a worn 311, then the battery",
        rig: cordless_pump(0.5),
        first: setting(TIP_311, STAIN),
        plan,
        start_h: 16.4,
        style: TimeStyle::Seconds,
        watch_offset_s: 41.0,
    }
    .scenario(seed);
    let charge_ratio = charge_that_ends(&day, 0.93);
    day.rig = cordless_pump(charge_ratio);
    day.expected = expected("weak_battery", TIP_415, ENAMEL, advice::BATTERY);
    day.others = vec![expected("worn_tip", TIP_311, STAIN, advice::WORN)];
    day
}

/// Charge with which a plan comes to the pack's end after a part of what it draws.
fn charge_that_ends(scenario: &Scenario, part: f64) -> f64 {
    let mut tireless = scenario.clone();
    let Supply::Battery { pack, charge_ratio } = &mut tireless.rig.supply else {
        return 1.0;
    };
    let capacity_a_s = pack.capacity_a_s;
    pack.capacity_a_s = 1.0e7;
    let before = *charge_ratio;
    let used_a_s = (before - perform(&tireless).battery_at_end.charge_ratio) * 1.0e7;
    (part * used_a_s / capacity_a_s).clamp(0.02, 1.0)
}

/// What differs from one recording of the day to the next.
pub(super) struct Day {
    pub(super) part: u64,
    pub(super) name: &'static str,
    pub(super) title: &'static str,
    pub(super) rig: RigDesign,
    pub(super) first: Setting,
    pub(super) plan: Vec<Action>,
    pub(super) start_h: f64,
    pub(super) style: TimeStyle,
    pub(super) watch_offset_s: f64,
}

impl Day {
    pub(super) fn scenario(self, seed: u64) -> Scenario {
        Scenario {
            name: self.name.into(),
            title: self.title.into(),
            seed: seed.wrapping_mul(16).wrapping_add(self.part),
            start: Start {
                // 2026-05-12T00:00:00+01:00, from memory.
                unix_s: 1_778_540_400.0 + (self.start_h * 3600.0_f64).floor(),
                utc_offset_s: 3600.0,
                is_told: true,
            },
            instruments: instruments(&self.rig),
            rig: self.rig,
            tips: tips(),
            liquids: coatings(),
            air: (SHOP_K + 0.8, 0.62),
            initial: self.first,
            material_k: SHOP_K,
            pass: PASS,
            person: Person {
                style: self.style,
                watch_offset_s: self.watch_offset_s,
                delay_s: (0.8, 3.2),
                grader_spread: 0.04,
                film_spread: 0.03,
                comb_ratio: 0.35,
                catch_ratio: 0.1,
                remarks: &[
                    "even from edge to edge",
                    "panel three",
                    "overlap a little short",
                    "bulkhead, upper half",
                ],
                blank_ratio: 0.05,
                late_ratio: 0.0,
                repeats_setting: false,
                writes_dial: true,
                strained: true,
            },
            plan: self.plan,
            logging: Logging::Device {
                sample_rate_hz: 500,
            },
            expected: expected("healthy_window", TIP_313, ENAMEL, advice::HEALTHY),
            others: Vec::new(),
        }
    }
}

pub(super) fn set_up(text: &'static str) -> Action {
    Action::Write {
        event: "setup",
        text,
        states_setting: true,
    }
}

pub(super) const fn setting(tip: usize, liquid: usize) -> Setting {
    Setting {
        tip,
        liquid,
        thinner_ratio: 0.0,
        mark: 0,
    }
}

fn expected(
    family: &'static str,
    tip: usize,
    liquid: usize,
    words: advice::AdviceWords,
) -> Expected {
    Expected {
        family,
        subkind: "",
        labels: vec![family],
        subject: setting(tip, liquid),
        is_alignment_clear: true,
        refusal: None,
        limit_kind: "",
        advice: words,
        asked_tip: None,
    }
}

/// How the hand moves all day.
const PASS: Pass = Pass {
    speed_m_per_s: 0.55,
    transfer_ratio: 0.75,
    overlap_ratio: 0.4,
};

/// The yard's box of tips. The `311` has seen a season.
pub(super) fn tips() -> Vec<TipPiece> {
    let piece = |fan, thou, family, area_error, used_h| TipPiece {
        used_h,
        ..TipPiece::of_code(fan, thou, family, area_error, 2.4, 0.93)
    };
    vec![
        piece(2, 9, "fine", 0.010, 6.0),
        piece(3, 11, "fine", 0.58, 96.0),
        piece(3, 13, "standard", -0.012, 9.5),
        piece(4, 15, "standard", 0.008, 12.0),
        piece(5, 21, "standard", -0.006, 4.0),
    ]
}

/// The coatings. Where tails vanish is set for one tip each; the others follow from the physics.
fn coatings() -> Vec<Liquid> {
    let coating = |name: &str, rest, high_shear, density, solids, yield_pa| Liquid {
        name: name.into(),
        density_kg_per_m3: density,
        volume_solids_ratio: solids,
        max_thinner_ratio: 0.05,
        thinner_density_kg_per_m3: 800.0,
        rest_viscosity_pa_s: rest,
        high_shear_viscosity_pa_s: high_shear,
        cross_time_s: 0.06,
        cross_exponent: 0.72,
        vogel_k: 1_000.0,
        vogel_offset_k: 110.0,
        thinning_sensitivity: 6.0,
        surface_tension_n_per_m: 0.030,
        yield_stress_pa: yield_pa,
        tail_number: 1.0,
    };
    let mut primer = coating("hull primer", 4.2, 0.062, 1_420.0, 0.52, 6.0);
    let mut enamel = coating("cabin enamel", 1.9, 0.032, 1_180.0, 0.44, 4.0);
    let mut stain = coating("locker stain", 0.12, 0.011, 960.0, 0.22, 1.6);
    let rig = bench_pump();
    let box_ = tips();
    for (liquid, tip, clears_bar) in [
        (&mut primer, TIP_209, 176.0),
        (&mut enamel, TIP_313, 112.0),
        (&mut stain, TIP_311, 62.0),
    ] {
        let tip = &box_[tip];
        let path = path_of(&rig, &tip.orifice, liquid.at(SHOP_K, 0.0), 1.0, 1.0);
        let clears_pa = clears_bar * 1e5;
        clear_at(liquid, &path, Tap::GunInlet, tip.fan_width_m, clears_pa);
        // The film stands well beyond any pressure of the day.
        let runs_pa = 3.2 * clears_pa;
        run_from(
            liquid,
            0.0,
            &path,
            Tap::GunInlet,
            (tip.fan_width_m, &PASS),
            runs_pa,
        );
    }
    vec![primer, enamel, stain]
}

/// The corded bench pump: 207 bar, sized for half-millimetre tips.
pub(super) fn bench_pump() -> RigDesign {
    size_rig(&Wanted {
        name: "corded bench pump".into(),
        tap: Tap::PumpOutlet,
        hose_m: (7.5, 6.4e-3),
        marks: marks(&[
            ("2", 0.32),
            ("4", 0.47),
            ("6", 0.63),
            ("8", 0.81),
            ("10", 1.0),
        ]),
        full_set_pa: 207.0e5,
        flow_m3_per_s: 2.4e-5,
        stroke_rate_hz: 7.5,
        reserve: 1.6,
        ripple_ratio: 0.045,
        motion: Motion::Crank,
        cells: None,
    })
}

/// The cordless cup pump: 138 bar, 18 V, 2 Ah, sized for tips up to 0.41 mm.
pub(super) fn cordless_pump(charge: f64) -> RigDesign {
    let mut rig = size_rig(&Wanted {
        name: "cordless cup pump".into(),
        tap: Tap::GunInlet,
        hose_m: (0.9, 4.8e-3),
        marks: marks(&[
            ("low", 0.29),
            ("medium low", 0.40),
            ("medium", 0.56),
            ("high", 0.77),
            ("max", 1.0),
        ]),
        full_set_pa: 138.0e5,
        flow_m3_per_s: 1.55e-5,
        stroke_rate_hz: 13.0,
        reserve: 1.12,
        ripple_ratio: 0.03,
        motion: Motion::Crank,
        cells: Some(5),
    });
    if let Supply::Battery { pack, charge_ratio } = &mut rig.supply {
        pack.capacity_a_s = 7_200.0;
        *charge_ratio = charge;
    }
    rig
}

fn marks(list: &[(&str, f64)]) -> Vec<(String, f64)> {
    list.iter()
        .map(|(label, part)| ((*label).to_owned(), *part))
        .collect()
}

/// Transducer, meter and clock of the yard's logger.
pub(super) fn instruments(rig: &RigDesign) -> Instruments {
    let is_cordless = matches!(rig.supply, Supply::Battery { .. });
    Instruments {
        transducer: Transducer {
            full_scale_pa: if is_cordless { 1.6e7 } else { 2.5e7 },
            stated_accuracy_ratio: 0.005,
            zero_pa: 3.1e4,
            zero_drift_pa_per_s: 4.0,
            span_error_ratio: -0.0016,
            noise_pa: 1.2e4,
            bits: 14,
            fault: PressureFault::None,
        },
        meter: FlowMeter {
            nominal_k_per_m3: 3.6e6,
            stated_u_ratio: 0.01,
            k_error_ratio: 0.006,
            slip_m3_per_s: 1.0e-8,
            teeth: 12,
            tooth_swing_ratio: 0.008,
            bounce_ratio: 0.001,
        },
        temperature_error_k: 0.15,
        clock_ppm: 38.0,
    }
}
