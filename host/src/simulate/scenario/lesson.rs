//! The recordings of the ready lesson: a class of six at the yard's college, and two batteries of one pump.
//!
//! Everybody of the class sprays cabin enamel with a 415 on one of two benches of one make of pump. The
//! benches differ as two benches do (meter, sensor, a kelvin of the coating), hands and eyes differ, and
//! one student was handed a worn tip. The two batteries drive the cordless pump through the same plan; one
//! is smaller and tired. Names, coatings, rigs and numbers are invented.

use super::super::random::{Part, RandomStream};
use super::super::rig::{RigDesign, Supply};
use super::demo::{
    Day, ENAMEL, TIP_313, TIP_415, TIP_521, bench_pump, cordless_pump, set_up, setting,
};
use super::plan::PlanBuilder;
use super::{Action, Scenario, TimeStyle};

/// One student of the lesson's class.
#[derive(Debug, Clone, PartialEq)]
pub struct ClassMember {
    /// Name; invented.
    pub name: &'static str,
    /// Number on the list.
    pub number: &'static str,
    /// Bench.
    pub bench: &'static str,
    /// Their trial; its name is the recording's folder.
    pub scenario: Scenario,
}

/// Name, bench, tip area over the stamped one's, standard deviation of the eye.
const CLASS: [(&str, &str, f64, f64); 6] = [
    ("Alder", "1", 1.008, 0.03),
    ("Birch", "1", 1.004, 0.05),
    ("Cedar", "1", 1.011, 0.04),
    ("Elm", "2", 0.994, 0.04),
    ("Hazel", "2", 1.130, 0.05),
    ("Rowan", "2", 0.998, 0.03),
];

/// The class under a seed.
#[must_use]
pub fn class(seed: u64) -> Vec<ClassMember> {
    (0u64..)
        .zip(CLASS)
        .map(|(i, (name, bench, area, eye))| {
            let own = seed.wrapping_mul(64).wrapping_add(i);
            let mut scenario = trial_of(own, i, bench, name);
            let tip = &mut scenario.tips[TIP_415];
            let stamped = tip.stamped_thou * 25.4e-6;
            tip.orifice.diameter_m = stamped * f64::sqrt(area);
            scenario.person.grader_spread = eye;
            on_bench(&mut scenario, bench);
            ClassMember {
                name,
                number: ["1", "2", "3", "4", "5", "6"][usize::try_from(i).unwrap_or(0)],
                bench,
                scenario,
            }
        })
        .collect()
}

fn trial_of(own: u64, i: u64, bench: &str, name: &str) -> Scenario {
    let mut random = RandomStream::new(own, Part::Scenario);
    let mut plan = PlanBuilder::new(&mut random, (5.0, 8.0), (4.0, 9.0));
    plan.open(0);
    plan.sync();
    plan.act(set_up("class trial, enamel stirred and strained"));
    plan.rounds(&[0, 1, 2, 3, 4], 2);
    plan.close();
    let plan = plan.finish();
    let hours = [9.1, 9.5, 9.9, 10.4, 10.8, 11.2];
    let mut scenario = Day {
        part: 8 + i,
        name: "",
        title: "class trial: cabin enamel through 415",
        rig: bench_pump(),
        first: setting(TIP_415, ENAMEL),
        plan,
        start_h: hours[usize::try_from(i).unwrap_or(0) % hours.len()],
        style: TimeStyle::Seconds,
        watch_offset_s: 20.0,
    }
    .scenario(own);
    scenario.name = format!("bench-{bench}-{}", name.to_lowercase());
    scenario
}

/// What is a bench's own: meter, sensor, and where the tin stood.
fn on_bench(scenario: &mut Scenario, bench: &str) {
    if bench == "2" {
        let instruments = &mut scenario.instruments;
        instruments.meter.k_error_ratio = -0.009;
        instruments.transducer.span_error_ratio = 0.0021;
        instruments.transducer.zero_pa = -1.9e4;
        scenario.material_k += 0.6;
    }
}

/// Two batteries on the cordless pump: a sound one first, then a small and tired one.
#[must_use]
pub fn batteries(seed: u64) -> [Scenario; 2] {
    let sound = cordless_pump(1.0);
    let mut tired = cordless_pump(1.0);
    if let Supply::Battery { pack, .. } = &mut tired.supply {
        pack.capacity_a_s = 5_400.0;
        pack.resistance_ohm *= 2.2;
        pack.polarisation_ohm *= 2.2;
    }
    [
        on_battery(seed, 0, "battery-a", sound),
        on_battery(seed, 1, "battery-b", tired),
    ]
}

fn on_battery(seed: u64, i: u64, name: &'static str, rig: RigDesign) -> Scenario {
    let own = seed.wrapping_mul(64).wrapping_add(32 + i);
    let mut random = RandomStream::new(own, Part::Scenario);
    let mut plan = PlanBuilder::new(&mut random, (10.0, 14.0), (3.0, 6.0));
    plan.open(1);
    plan.sync();
    plan.act(set_up("battery fresh from the charger"));
    plan.rounds(&[1, 2, 3, 4], 1);
    plan.change_tip(TIP_521, 2, true);
    plan.rounds(&[2, 3, 4], 1);
    plan.change_tip(TIP_415, 1, true);
    plan.rounds(&[1, 2, 3, 4], 1);
    for _ in 0..20 {
        plan.spray(4);
    }
    plan.act(Action::Wait(3.0));
    plan.close();
    let plan = plan.finish();
    Day {
        part: 40 + i,
        name,
        title: "cordless cup pump: what it pushes, and for how long",
        rig,
        first: setting(TIP_313, ENAMEL),
        plan,
        start_h: 13.2 + 2.0 * f64::from(u8::try_from(i).unwrap_or(0)),
        style: TimeStyle::Seconds,
        watch_offset_s: -8.0,
    }
    .scenario(own)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn folders_and_numbers_of_the_class_are_its_own_and_repeat_with_the_seed() {
        let first = class(7);
        let mut names: Vec<&str> = first.iter().map(|m| m.scenario.name.as_str()).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), 6);
        assert_eq!(first, class(7));
        assert_ne!(first[0].scenario.seed, class(8)[0].scenario.seed);
    }

    #[test]
    fn the_second_battery_is_the_weaker_one() {
        let [a, b] = batteries(7);
        let pack = |s: &Scenario| match &s.rig.supply {
            Supply::Battery { pack, .. } => *pack,
            Supply::Mains { .. } => panic!("a cordless pump"),
        };
        assert!(pack(&b).capacity_a_s < pack(&a).capacity_a_s);
        assert!(pack(&b).resistance_ohm > pack(&a).resistance_ohm);
    }
}
