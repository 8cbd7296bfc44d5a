use super::*;

fn pass() -> Pass {
    Pass {
        // 0.6 L/min, 70 %, 0.7 m/s, 200 mm, half overlapped: 100 um.
        flow_m3_per_s: Estimate::new(1.0e-5, 0.0, 1.0e-7),
        transfer_ratio: Estimate::new(0.7, 0.0, 0.035),
        hand_speed_m_per_s: Estimate::new(0.7, 0.07, 0.0),
        fan_width_m: Estimate::new(0.2, 0.01, 0.0),
        overlap_ratio: 0.5,
    }
}

#[test]
fn wet_film_follows_conservation_of_volume_and_carries_its_doubt() {
    let wet = pass().wet_film_m().unwrap();
    assert!((wet.value - 100e-6).abs() < 1e-12);
    // Hand 10 % and width 5 % are independent; transfer 5 % and flow 1 % common.
    assert!((wet.u_independent / wet.value - 0.1f64.hypot(0.05)).abs() < 3e-3);
    assert!((wet.u_common / wet.value - 0.05f64.hypot(0.01)).abs() < 1e-4);
    // Volume laid a second equals volume that arrives a second.
    let rate = pass().area_rate_m2_per_s().unwrap();
    assert!((rate.value * wet.value - 0.7e-5).abs() < 1e-18);
}

#[test]
fn a_faster_hand_lays_less_and_the_speed_for_a_film_gives_that_film_back() {
    let speed = pass().hand_speed_for(80e-6).unwrap();
    let faster = Pass {
        hand_speed_m_per_s: speed,
        ..pass()
    };
    assert!((faster.wet_film_m().unwrap().value - 80e-6).abs() < 1e-12);
    assert!(speed.value > 0.7);
}

#[test]
fn dry_film_is_corrected_for_thinner() {
    let wet = Estimate::new(100e-6, 5e-6, 0.0);
    let dry = dry_film_m(wet, 0.40, 0.10).unwrap();
    assert!((dry.value - 100e-6 * 0.40 / 1.10).abs() < 1e-15);
    let back = wet_film_for_dry_m(dry, 0.40, 0.10).unwrap();
    assert!((back.value - wet.value).abs() < 1e-15 && (back.u_independent - 5e-6).abs() < 1e-15);
}

#[test]
fn an_area_takes_its_volume_over_the_transfer_efficiency() {
    let job = plan_area(70.0, 200e-6, 0.05, &pass()).unwrap();
    // 14 L on the wall, 20 L through the tip, 2000 s at 0.6 L/min, two coats.
    assert!((job.mixed_m3.value - 0.020).abs() < 1e-12);
    assert!((job.coating_m3.value + job.thinner_m3.value - 0.020).abs() < 1e-12);
    assert!((job.thinner_m3.value / job.coating_m3.value - 0.05).abs() < 1e-12);
    assert!((job.spraying_s.value - 2000.0).abs() < 1e-6);
    assert!((job.coats.value - 2.0).abs() < 1e-9);
    assert!((job.coverage_m2_per_m3.value - 3500.0).abs() < 1e-6);
    // Area times coats over the area rate is the same time.
    let rate = pass().area_rate_m2_per_s().unwrap().value;
    assert!((70.0 * 2.0 / rate - job.spraying_s.value).abs() < 1e-6);
}

#[test]
fn a_fan_opens_in_proportion_to_the_distance() {
    let at = fan_width_at(
        Estimate::exact(0.203),
        0.305,
        Estimate::new(0.4575, 0.02, 0.0),
    )
    .unwrap();
    assert!((at.value - 0.3045).abs() < 1e-12 && at.u_independent > 0.01);
}

#[test]
fn each_unusable_entry_is_refused_by_name() {
    #[track_caller]
    fn check<T: std::fmt::Debug>(result: Result<T, FilmError>, message: &str) {
        assert_eq!(result.unwrap_err().to_string(), message);
    }
    let with = |change: &dyn Fn(&mut Pass)| {
        let mut pass = pass();
        change(&mut pass);
        pass.wet_film_m()
    };
    check(
        with(&|p| p.hand_speed_m_per_s = Estimate::exact(0.0)),
        "hand speed is 0; it must be a finite number above zero",
    );
    check(
        with(&|p| p.flow_m3_per_s = Estimate::exact(f64::NAN)),
        "flow is NaN; it must be a finite number above zero",
    );
    check(
        with(&|p| p.transfer_ratio = Estimate::exact(70.0)),
        "transfer efficiency is 70; it must be above 0 and at most 1",
    );
    check(
        with(&|p| p.overlap_ratio = 1.0),
        "overlap is 1; it must lie between 0 and 0.9",
    );
    check(
        dry_film_m(Estimate::exact(1e-4), 40.0, 0.0),
        "volume solids is 40; it must be above 0 and at most 1",
    );
    check(
        dry_film_m(Estimate::exact(1e-4), 0.4, f64::NAN),
        "thinner is NaN by volume of coating; it must lie between 0 and 1",
    );
    check(
        plan_area(-1.0, 1e-4, 0.0, &pass()),
        "area is -1; it must be a finite number above zero",
    );
}
