use super::super::liquid::tests::test_enamel;
use super::super::pump::tests::test_pump;
use super::super::trace::mean_between;
use super::*;
use crate::units::Metre;

/// A corded rig of 200 bar for the tests of this folder.
pub(crate) fn test_design() -> RigDesign {
    let (pump, motor) = test_pump();
    RigDesign {
        name: "test rig".into(),
        tap: Tap::PumpOutlet,
        hose: Hose {
            length_m: 7.5,
            bore_m: 6.4e-3,
            stiffness_pa: 2.0e8,
        },
        fixed_compliance_m3_per_pa: 1.0e-13,
        filter_per_m3: 5.0e11,
        pump,
        motor,
        supply: Supply::Mains {
            voltage_v: 230.0,
            resistance_ohm: 0.5,
        },
        control: PressureControl {
            marks: vec![("3".into(), 0.4), ("6".into(), 0.7), ("10".into(), 1.0)],
            full_set_pa: 2.0e7,
            proportional_band_pa: 6.0e5,
            dead_band_pa: 3.0e5,
        },
        working_pressure_pa: 2.1e7,
        trigger_s: 0.04,
    }
}

pub(crate) fn test_loading(thou: f64) -> Loading {
    Loading {
        orifice: Orifice {
            diameter_m: Metre::from_thou(thou).si(),
            land_ratio: 2.5,
            edge_factor: 1.0,
        },
        liquid: test_enamel(),
        thinner_ratio: 0.0,
        material_k: 293.15,
    }
}

/// Mean pump pressure and flow of a burst at a mark, after its opening transient.
pub(crate) fn measure(design: &RigDesign, loading: Loading, mark: usize) -> (f64, f64) {
    let mut rig = RunningRig::new(design, loading, 5);
    rig.turn_dial(mark);
    rig.switch(true);
    rig.run(8.0, false);
    rig.run(8.0, true);
    let trace = rig.trace();
    (
        mean_between(&trace.pump_pa, 10.0, 16.0),
        mean_between(&trace.flow_m3_per_s, 10.0, 16.0),
    )
}

#[test]
fn a_rig_stalls_near_its_set_pressure_and_is_relieved_to_nothing() {
    let design = test_design();
    let mut rig = RunningRig::new(&design, test_loading(15.0), 1);
    rig.run(1.0, false);
    assert_eq!(rig.trace().pump_pa.last(), Some(&0.0));
    rig.turn_dial(1);
    rig.switch(true);
    rig.run(6.0, false);
    let stalled_pa = *rig.trace().pump_pa.last().unwrap();
    let set_pa = design.control.set_pa(1);
    assert!(
        stalled_pa > set_pa - 4.0e5 && stalled_pa < set_pa + 6.0e5,
        "{stalled_pa}"
    );
    rig.relieve(2.0);
    assert!(*rig.trace().pump_pa.last().unwrap() < 10.0);
}

#[test]
fn spraying_pressure_lies_below_the_set_one_and_a_larger_tip_draws_it_down() {
    let mut design = test_design();
    design.motor.power_limit_w = 300.0;
    let full = design.control.full_mark();
    let (small_pa, small_flow) = measure(&design, test_loading(11.0), full);
    let (large_pa, large_flow) = measure(&design, test_loading(23.0), full);
    assert!(small_pa < 2.0e7 && small_pa > 1.93e7, "{small_pa}");
    assert!(large_pa < 0.75 * small_pa, "{large_pa}");
    assert!(large_flow > 1.5 * small_flow);
}

/// Volume is conserved: what the gun let out is what the strokes pushed in, but for the swelling.
#[test]
fn mean_flow_times_pressure_is_the_hydraulic_power_that_the_motor_paid_for() {
    let mut design = test_design();
    design.motor.power_limit_w = 300.0;
    let mut rig = RunningRig::new(&design, test_loading(21.0), 5);
    rig.turn_dial(2);
    rig.switch(true);
    rig.run(8.0, false);
    rig.run(8.0, true);
    let trace = rig.trace();
    let hydraulic_w: f64 = trace.pump_pa[10_000..16_000]
        .iter()
        .zip(&trace.flow_m3_per_s[10_000..16_000])
        .map(|(p, q)| p * q)
        .sum::<f64>()
        / 6000.0;
    let slow = &trace.slow[100..160];
    let electrical_w = slow.iter().map(|s| s.supply_v * s.supply_a).sum::<f64>() / 60.0;
    let ratio = hydraulic_w / electrical_w;
    assert!(ratio > 0.55 && ratio < 0.83, "{hydraulic_w} {electrical_w}");
}

/// Reversals once a stroke: pressure dips that many times a second, and by several percent.
#[test]
fn pressure_dips_once_a_stroke() {
    let mut design = test_design();
    design.hose.stiffness_pa = 6.0e8;
    design.motor.power_limit_w = 300.0;
    let mut rig = RunningRig::new(&design, test_loading(19.0), 5);
    rig.turn_dial(2);
    rig.switch(true);
    rig.run(6.0, false);
    rig.run(6.0, true);
    let rate_hz = rig.stroke_rate_hz;
    let part = &rig.trace().pump_pa[8_000..12_000];
    let mean_pa = part.iter().sum::<f64>() / 4000.0;
    let falls = part
        .windows(2)
        .filter(|w| w[0] >= mean_pa && w[1] < mean_pa)
        .count();
    let got_hz = f64::from(u32::try_from(falls).unwrap()) / 4.0;
    assert!(
        (got_hz - rate_hz).abs() < 0.15 * rate_hz,
        "{got_hz} {rate_hz}"
    );
    let (low, high) = part
        .iter()
        .fold((f64::MAX, 0.0f64), |(l, h), p| (l.min(*p), h.max(*p)));
    assert!((high - low) / mean_pa > 0.03, "{low} {high}");
}

#[test]
fn restriction_at_the_tip_lowers_flow_and_at_the_inlet_lowers_pressure() {
    let design = test_design();
    let burst = |restriction: Option<Restriction>| {
        let mut rig = RunningRig::new(&design, test_loading(19.0), 5);
        rig.turn_dial(2);
        rig.switch(true);
        rig.run(8.0, false);
        rig.restrictions.extend(restriction);
        rig.run(12.0, true);
        let trace = rig.trace();
        (
            mean_between(&trace.pump_pa, 16.0, 20.0),
            mean_between(&trace.flow_m3_per_s, 16.0, 20.0),
        )
    };
    let (p0, q0) = burst(None);
    let (p1, q1) = burst(Some(Restriction::new(RestrictionPlace::Tip, 0.7, 3.0)));
    let (p2, q2) = burst(Some(Restriction::new(
        RestrictionPlace::GunFilter,
        0.1,
        3.0,
    )));
    let (p3, q3) = burst(Some(Restriction::new(RestrictionPlace::Inlet, 0.01, 3.0)));
    assert!((p1 / p0 - 1.0).abs() < 0.04 && q1 < 0.8 * q0, "{p1} {q1}");
    assert!((p2 / p0 - 1.0).abs() < 0.04 && q2 < 0.95 * q0, "{p2} {q2}");
    assert!(p3 < 0.8 * p0 && q3 < 0.95 * q0, "{p3} {q3}");
}

#[test]
fn a_battery_runs_down_and_the_pressure_follows() {
    let mut design = test_design();
    design.supply = Supply::Battery {
        pack: BatteryPack {
            cells: 5,
            capacity_a_s: 600.0,
            resistance_ohm: 0.12,
            polarisation_ohm: 0.06,
            polarisation_s: 25.0,
        },
        charge_ratio: 0.35,
    };
    design.pump.stroke_m3 = 0.6e-6;
    design.motor = Motor {
        emf_v_s: 0.75,
        winding_ohm: 0.05,
        power_limit_w: 400.0,
        friction_j: 0.4,
        load_friction_ratio: 0.2,
        top_rate_hz: 40.0,
        lag_s: 0.05,
        rest_power_w: 1.5,
    };
    design.control.full_set_pa = 1.38e7;
    let mut rig = RunningRig::new(&design, test_loading(11.0), 5);
    rig.turn_dial(2);
    rig.switch(true);
    rig.run(5.0, false);
    rig.run(60.0, true);
    let trace = rig.trace();
    let early_pa = mean_between(&trace.pump_pa, 8.0, 12.0);
    let late_pa = mean_between(&trace.pump_pa, 60.0, 64.0);
    let (early, late) = (trace.slow[80], trace.slow[640]);
    assert!(early_pa > 1.0e7, "{early_pa}");
    assert!(late_pa < 0.8 * early_pa, "{late_pa}");
    assert!(late.supply_v < early.supply_v - 1.0, "{early:?} {late:?}");
}

#[test]
fn same_seed_same_trace() {
    let design = test_design();
    let run = || {
        let mut rig = RunningRig::new(&design, test_loading(13.0), 9);
        rig.switch(true);
        rig.run(3.0, false);
        rig.run(3.0, true);
        rig.into_trace().pump_pa
    };
    assert_eq!(run(), run());
}
