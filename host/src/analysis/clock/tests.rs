use super::*;

/// Arrivals every 0.1 s with delays in a fixed irregular pattern of 0 to 30 ms beyond `least_s`.
fn arrivals(n: u32, offset_s: f64, drift: f64, least_s: f64) -> Vec<(f64, f64)> {
    (0..n)
        .map(|i| {
            let logger = 0.1 * f64::from(i);
            let delay = least_s + 0.001 * f64::from((i * i * 13 + 5 * i) % 31);
            (logger, logger + offset_s + drift * logger + delay)
        })
        .collect()
}

fn exact_link(least_s: f64) -> Link {
    Link {
        least_delay_s: Estimate::exact(least_s),
        resolution_s: 0.0,
    }
}

#[test]
fn offset_and_drift_are_found_under_the_delays() {
    let model = fit_clock(&arrivals(3000, 1.7e9, 4e-5, 0.003), &exact_link(0.003)).unwrap();
    assert_eq!((model.segments.len(), model.jumps.len()), (1, 0));
    let at = model.host_time(200.0).unwrap();
    // Unix seconds have a resolution of 2.4e-7 s in double precision.
    assert!((at.value - (1.7e9 + 200.0 + 0.008)).abs() < 1e-4, "{at:?}");
    assert!((model.segments[0].drift.value - 4e-5).abs() < 1e-6);
    let back = model.logger_times(at.value);
    assert!(
        back.len() == 1 && (back[0].value - 200.0).abs() < 1e-6,
        "{back:?}"
    );
}

#[test]
fn the_least_delay_is_subtracted_and_its_doubt_is_common() {
    let data = arrivals(500, 10.0, 0.0, 0.002);
    let model = fit_clock(&data, &Link::default()).unwrap();
    let offset = model.segments[0].offset_s;
    assert!((offset.value - 10.0).abs() < 0.001, "{offset:?}");
    assert!((offset.u_common - 0.002 / 3f64.sqrt()).abs() < 1e-12);
}

#[test]
fn a_host_clock_put_forward_and_back_is_two_jumps_at_their_places() {
    let mut data = arrivals(3000, 0.0, 2e-5, 0.001);
    for (i, arrival) in data.iter_mut().enumerate() {
        if (1000..2000).contains(&i) {
            arrival.1 += 5.0;
        }
    }
    let model = fit_clock(&data, &exact_link(0.001)).unwrap();
    assert_eq!(model.jumps.len(), 2, "{:?}", model.jumps);
    for (jump, at_s, size_s) in [
        (&model.jumps[0], 99.95, 5.0),
        (&model.jumps[1], 199.95, -5.0),
    ] {
        assert!(jump.between_s.contains(at_s), "{jump:?}");
        assert!((jump.size_s.value - size_s).abs() < 0.005, "{jump:?}");
    }
    // Host times that were skipped have no logger time, times run through twice have two.
    assert!(model.logger_times(102.0).is_empty());
    assert_eq!(model.logger_times(202.0).len(), 2);
    assert_eq!(model.logger_times(50.0).len(), 1);
}

#[test]
fn a_stall_of_the_host_is_not_a_jump() {
    let mut data = arrivals(3000, 0.0, 0.0, 0.001);
    // For eight seconds nothing is read; then everything comes at once.
    for arrival in &mut data[1000..1080] {
        arrival.1 = 108.05;
    }
    let model = fit_clock(&data, &exact_link(0.001)).unwrap();
    assert!(model.jumps.is_empty(), "{:?}", model.jumps);
    assert!((model.segments[0].greatest_delay_s - 8.05).abs() < 0.1);
    assert!(model.segments[0].offset_s.value.abs() < 0.001);
}

#[test]
fn coarse_stamps_of_the_host_widen_the_doubt() {
    let mut data = arrivals(2000, 0.0, 0.0, 0.0);
    for arrival in &mut data {
        arrival.1 = arrival.1.floor();
    }
    let link = Link {
        resolution_s: 1.0,
        ..exact_link(0.0)
    };
    let segment = fit_clock(&data, &link).unwrap().segments[0];
    assert!(segment.offset_s.u_independent >= 0.28, "{segment:?}");
}

#[test]
fn unusable_arrivals_are_refused_by_name() {
    #[track_caller]
    fn check(arrivals: &[(f64, f64)], message: &str) {
        let error = fit_clock(arrivals, &Link::default()).unwrap_err();
        assert_eq!(error.to_string(), message);
    }
    check(
        &[],
        "0 frames arrived over 0.0 s, 8 at different times are needed to set the clocks against each \
         other; record for longer, or mark three short pulls as sync",
    );
    check(
        &[(5.0, 6.0); 20],
        "20 frames arrived over 0.0 s, 8 at different times are needed to set the clocks against each \
         other; record for longer, or mark three short pulls as sync",
    );
    check(
        &[(0.0, 1.0), (f64::NAN, 2.0)],
        "arrival 1: logger time NaN, host time 2; not finite",
    );
    check(
        &[(1.0, 1.0), (0.5, 2.0)],
        "arrival 1: logger time falls from 1 s to 0.5 s; a restart begins a new stretch when the \
         recording is loaded, load it again",
    );
    let link = Link {
        resolution_s: -1.0,
        ..Link::default()
    };
    assert_eq!(
        fit_clock(&[], &link).unwrap_err().to_string(),
        "least delay 0.002 s with resolution -1 s; both must be 0 or above"
    );
}

#[test]
fn a_stretch_with_too_few_arrivals_has_no_host_time() {
    let mut data = arrivals(1000, 0.0, 0.0, 0.001);
    // Two jumps with five arrivals between them, four seconds apart.
    for (i, arrival) in data.iter_mut().enumerate() {
        if i >= 995 {
            arrival.1 += 60.0;
        }
    }
    let model = fit_clock(&data, &exact_link(0.001)).unwrap();
    assert_eq!(model.unknown_s.len(), 1, "{model:?}");
    assert_eq!(model.host_time(99.7), None);
    assert!(model.host_time(50.0).is_some() && model.host_time(f64::NAN).is_none());
}
