//! What goes wrong, and that all of it is counted.

use proptest::prelude::{prop, prop_assert_eq, proptest};
use std::vec::Vec;

use tipcurve_protocol::{Event, Reader, ResetReason};

use super::{App, Bench, Config, Line, Received, Rig, receive, std};
use crate::limits::{MARK_QUEUE, SAMPLE_QUEUE_BLOCKS};
use crate::sensor::SensorError;
#[test]
fn full_queue_drops_the_newest_blocks_and_the_wire_says_how_many() {
    let mut bench = Bench::started();
    bench.line = Line::blocked();
    // Twenty blocks of half a second: one is being sent, six wait, the rest is dropped.
    bench.run(10_000_000);
    bench.line.room = None;
    bench.run(3_000_000);
    let received = bench.finish();
    let health = received.last_health();
    let kept = u32::try_from(SAMPLE_QUEUE_BLOCKS).unwrap();
    assert_eq!(u32::from(health.queue_high_water), kept);
    assert_eq!(health.dropped_samples, 250 * health.dropped_blocks);
    let totals = received.samples.totals();
    assert_eq!(totals.lost, u64::from(health.dropped_samples));
    assert_eq!(totals.gaps, 1, "the newest went, so there is one gap");
    assert_eq!(totals.received + totals.lost, 6_500);
    assert_eq!(received.sample_ticks[..1_500], {
        let before: Vec<u64> = (0..1_500).map(|i| i * 2_000).collect();
        before
    });
}

#[test]
fn slow_line_gets_the_same_bytes_in_small_parts() {
    let mut free = Bench::started();
    free.run(3_000_000);
    let mut slow = Bench::started();
    slow.line = Line::blocked();
    while slow.now < 3_000_000 {
        slow.line.room = Some(3);
        slow.run(500);
    }
    let (free, slow) = (free.finish(), slow.finish());
    assert_eq!(free.codes, slow.codes);
    assert_eq!(free.sample_ticks, slow.sample_ticks);
    assert_eq!(free.slow, slow.slow);
}

#[test]
fn writer_that_fails_loses_nothing_and_is_counted() {
    let mut bench = Bench::started();
    bench.run(1_000_000);
    bench.line.is_broken = true;
    bench.run(1_000_000);
    bench.line.is_broken = false;
    bench.run(2_000_000);
    let received = bench.finish();
    assert!(received.last_health().send_errors > 0);
    assert_eq!(received.samples.totals().lost, 0);
    assert_eq!(received.codes.len(), 2_000);
}

#[test]
fn edge_storm_is_counted_edge_by_edge_and_disturbs_no_sample() {
    let mut bench = Bench::started();
    // 50 kHz for two seconds: one edge in 25 is outside the debounce time.
    for i in 0..100_000_u64 {
        let ticks = i * 20;
        if ticks > bench.now {
            bench.run(500);
        }
        bench.app.on_edge(ticks);
    }
    bench.run(1_100_000);
    let received = bench.finish();
    let health = received.last_health();
    let totals = received.edges.totals();
    let accounted = totals.received + totals.lost + u64::from(health.debounce_rejects);
    assert_eq!(accounted, 100_000);
    assert_eq!(totals.lost, u64::from(health.dropped_edges));
    assert_eq!(received.samples.totals().lost, 0);
}

#[test]
fn marks_beyond_their_queue_leave_a_hole_in_the_numbers() {
    let mut bench = Bench::started();
    bench.line = Line::blocked();
    for i in 0..20 {
        bench.app.on_button(i * 1_000_000);
    }
    bench.line.room = None;
    bench.run(500_000);
    bench.app.on_button(30_000_000);
    let received = bench.finish();
    let numbers: Vec<u32> = received.marks.iter().map(|mark| mark.first_mark).collect();
    assert_eq!(numbers.len(), MARK_QUEUE + 1);
    assert_eq!(numbers.last(), Some(&20));
}

#[test]
fn failing_pressure_sensor_leaves_counted_gaps_and_the_rest_goes_on() {
    for (fault, bus_errors, absent) in [
        (SensorError::Bus, 500, 1 << 1),
        (SensorError::Absent, 0, 1 << 1),
        (SensorError::NotReady, 0, 0),
    ] {
        let mut bench = Bench::started();
        bench.run(1_000_000);
        bench.rig.pressure_fault = Some(fault);
        bench.run(1_000_000);
        bench.app.on_edge(bench.now);
        let during = receive(&bench.line.bytes);
        bench.rig.pressure_fault = None;
        bench.run(1_100_000);
        let slow_during = during.slow.last().unwrap().device_ticks;
        assert!(slow_during > 1_700_000, "slow channels went on");
        let received = bench.finish();
        let health = received.last_health();
        assert_eq!(health.missed_samples, 500, "{fault:?}");
        assert_eq!(health.bus_errors, bus_errors, "{fault:?}");
        assert_eq!(health.absent_channels, 0, "it came back");
        let seen = received
            .health
            .iter()
            .any(|health| health.absent_channels == absent);
        assert!(seen, "{fault:?}");
        let totals = received.samples.totals();
        assert_eq!((totals.lost, totals.gaps), (500, 1));
        assert_eq!(received.edge_ticks.len(), 1);
    }
}

#[test]
fn failing_slow_sensor_is_reported_and_others_are_read() {
    let mut bench = Bench::started();
    bench.rig.coating_fault = Some(SensorError::Bus);
    bench.run(4_950_000);
    let received = bench.finish();
    let health = received.last_health();
    assert_eq!(health.absent_channels, 1 << 3);
    assert_eq!(health.bus_errors, 5);
    assert!(
        received
            .slow
            .iter()
            .all(|slow| slow.coating_temperature_code.is_none())
    );
    let voltages = received
        .slow
        .iter()
        .filter_map(|slow| slow.supply_voltage_code);
    assert!(voltages.eq(core::iter::repeat_n(600, 25)));
    let humidities = received
        .slow
        .iter()
        .filter_map(|slow| slow.air_humidity_code);
    assert!(humidities.eq(core::iter::repeat_n(500, 5)));
}

#[test]
fn saturated_converter_is_counted_and_its_codes_are_kept() {
    let mut bench = Bench::started();
    bench.rig.level = 40_000;
    bench.run(200_000);
    bench.rig.level = 9_000;
    bench.run(1_000_000);
    let received = bench.finish();
    assert_eq!(received.last_health().saturated_samples, 100);
    assert!(received.codes[0] >= 40_000);
}

#[test]
fn missed_timer_ticks_are_numbered_and_counted() {
    let mut bench = Bench::started();
    bench.run(100_000);
    bench.now += 300_000;
    bench.next_sample = bench.now;
    bench.run(1_100_000);
    let received = bench.finish();
    let totals = received.samples.totals();
    assert_eq!((totals.lost, totals.gaps), (150, 1));
    assert_eq!(received.last_health().missed_samples, 150);
    for pair in received.sample_ticks.windows(2) {
        assert!(pair[1] > pair[0]);
    }
}

#[test]
fn jittering_timer_does_not_break_blocks() {
    let mut app = App::new(Config::default());
    let mut rig = Rig::new();
    for i in 0..1_000_u64 {
        app.on_sample_tick(i * 2_000 + (i * i) % 700, &mut rig);
        if i % 200 == 0 {
            app.flush();
        }
    }
    let mut line = Line::open();
    app.poll_send(2_000_000, &mut line).unwrap();
    let received = receive(&line.bytes);
    assert_eq!(received.samples.totals().lost, 0);
}

#[test]
fn device_time_goes_on_past_32_bits() {
    let mut bench = Bench::started();
    bench.now = (1 << 32) - 1_000_000;
    bench.next_sample = bench.now;
    bench.app.on_edge(bench.now + 999_999);
    bench.run(1_100_000);
    bench.app.on_edge((1 << 32) + 1);
    bench.run(1_000_000);
    let received = bench.finish();
    assert_eq!(received.samples.totals().lost, 0);
    assert_eq!(received.edge_ticks, [(1 << 32) - 1]);
    assert_eq!(
        received.last_health().debounce_rejects,
        1,
        "two microseconds after the one before"
    );
    assert!(*received.sample_ticks.last().unwrap() > 1 << 32);
}

#[test]
fn restart_shows_in_boot_id_reason_and_numbers() {
    let mut first = Bench::started();
    first.run(3_000_000);
    let mut second = Bench::new(Config {
        boot_id: 1,
        reset_reason: ResetReason::BrownOut,
        ..Config::default()
    });
    second.run(2_000_000);
    // The first start was cut off in the middle of a frame.
    let mut stream = first.line.bytes;
    stream.truncate(stream.len() - 5);
    stream.extend_from_slice(&second.line.bytes);
    let mut reader = Reader::new();
    let mut received = Received::default();
    let mut damaged = 0;
    let mut input = stream.as_slice();
    while let Some(event) = reader.next(&mut input) {
        match event {
            Event::Message(message) => received.take(message),
            _ => damaged += 1,
        }
    }
    assert_eq!(damaged, 1, "only the frame that was cut off");
    assert_eq!(received.samples.totals().restarts, 1);
    assert_eq!(received.last_health().reset_reason, ResetReason::BrownOut);
    assert_ne!(received.health[0].boot_id, received.last_health().boot_id);
}

#[test]
fn watchdog_is_fed_only_while_sample_ticks_come() {
    let mut bench = Bench::started();
    bench.run(1_000_000);
    assert!(bench.app.is_alive(bench.now));
    assert!(bench.app.is_alive(bench.now + 90_000));
    assert!(!bench.app.is_alive(bench.now + 110_000));
}

proptest! {
    /// Whatever fails and however the line stalls, samples that arrived and samples known to be lost
    /// add up to the samples that were due.
    #[test]
    fn any_run_accounts_for_every_sample(
        steps in prop::collection::vec((0..6_u8, 1..700_u64, 0..600_usize), 1..60),
    ) {
        let mut bench = Bench::started();
        for (what, milliseconds, room) in steps {
            match what {
                0 => bench.rig.pressure_fault = Some(SensorError::Bus),
                1 => bench.rig.pressure_fault = None,
                2 => bench.line.room = Some(room),
                3 => bench.line.room = None,
                4 => bench.line.is_broken = !bench.line.is_broken,
                _ => bench.app.on_edge(bench.now),
            }
            bench.run(milliseconds * 1_000);
        }
        bench.rig.pressure_fault = None;
        bench.line.is_broken = false;
        bench.line.room = None;
        bench.run(2_000_000);
        let due = bench.now.div_ceil(2_000);
        let received = bench.finish();
        // A run that lost its very first samples has nothing before the gap: the first number tells.
        let totals = received.samples.totals();
        let before_first = received.sample_ticks.first().map_or(0, |ticks| ticks / 2_000);
        prop_assert_eq!(totals.received + totals.lost + before_first, due);
        let health = received.last_health();
        let in_device = u64::from(health.dropped_samples) + u64::from(health.missed_samples);
        prop_assert_eq!(in_device, totals.lost + before_first);
    }
}
