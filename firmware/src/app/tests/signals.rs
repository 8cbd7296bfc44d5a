//! Samples, edges, slow readings, marks and heartbeat when all is well.

use std::vec::Vec;

use tipcurve_protocol::ResetReason;

use super::{Bench, Config, receive, std};
#[test]
fn every_sample_arrives_with_its_time() {
    let mut bench = Bench::started();
    bench.run(10_000_000);
    let received = bench.finish();
    assert_eq!(received.codes.len(), 5_000);
    for (i, ticks) in (0..).zip(&received.sample_ticks) {
        assert_eq!(*ticks, 2_000 * i);
    }
    let expected = (1..=5_000).map(|n| 9_000 + (n * 7_919) % 13);
    assert!(received.codes.iter().copied().eq(expected));
    assert_eq!(received.samples.totals().lost, 0);
}

#[test]
fn hello_comes_first_and_again_every_ten_seconds() {
    let mut bench = Bench::started();
    bench.run(20_500_000);
    assert_eq!(
        bench.line.bytes.first(),
        Some(&0),
        "ends what was on the line"
    );
    let received = bench.finish();
    assert_eq!(received.hellos.len(), 3);
    assert_eq!(received.hellos[0].channels, Config::default().channels);
}

#[test]
fn heartbeat_comes_every_second_also_while_stopped() {
    let mut bench = Bench::new(Config {
        is_running: false,
        boot_id: 77,
        reset_reason: ResetReason::Watchdog,
        ..Config::default()
    });
    bench.run(5_100_000);
    let received = bench.finish();
    assert!(received.codes.is_empty());
    let beats: Vec<u32> = received
        .health
        .iter()
        .map(|health| health.heartbeat)
        .collect();
    assert_eq!(beats, [0, 1, 2, 3, 4, 5]);
    let health = received.last_health();
    assert!(!health.is_running);
    assert_eq!(health.boot_id, 77);
    assert_eq!(health.reset_reason, ResetReason::Watchdog);
    assert!(!received.slow.is_empty(), "slow channels go on");
}

#[test]
fn edges_keep_their_captured_times_across_blocks() {
    let mut bench = Bench::started();
    let mut expected = Vec::new();
    for i in 0..400_u64 {
        let ticks = 3 + i * 6_667 + (i * i) % 97;
        bench.run(ticks.saturating_sub(bench.now));
        bench.app.on_edge(ticks);
        expected.push(ticks);
    }
    let received = bench.finish();
    assert_eq!(received.edge_ticks, expected);
    assert_eq!(received.edges.totals().lost, 0);
}

#[test]
fn lone_edge_is_sent_within_half_a_second() {
    let mut bench = Bench::started();
    bench.run(100_000);
    bench.app.on_edge(bench.now);
    bench.run(501_000);
    let received = receive(&bench.line.bytes);
    assert_eq!(received.edge_ticks, [100_000]);
}

#[test]
fn bounce_is_rejected_and_counted() {
    let mut bench = Bench::started();
    for ticks in [10_000, 10_200, 10_499, 10_500, 10_400, 20_000] {
        bench.app.on_edge(ticks);
    }
    bench.app.on_over_capture(2);
    bench.run(1_100_000);
    let received = bench.finish();
    assert_eq!(received.edge_ticks, [10_000, 10_500, 20_000]);
    let health = received.last_health();
    assert_eq!((health.debounce_rejects, health.over_captures), (3, 2));
    assert_eq!(health.sent_edges, 3);
}

#[test]
fn button_gives_one_mark_a_press() {
    let mut bench = Bench::started();
    for ticks in [1_000_000, 1_003_000, 1_015_000, 2_000_000] {
        bench.app.on_button(ticks);
    }
    bench.run(500_000);
    let received = bench.finish();
    let expected = [(0, 1_000_000), (1, 2_000_000)];
    let marks: Vec<(u32, u64)> = received
        .marks
        .iter()
        .map(|mark| (mark.first_mark, mark.device_ticks))
        .collect();
    assert_eq!(marks, expected);
}

#[test]
fn quiet_signal_at_500_hz_costs_less_than_1_6_bytes_a_sample_with_everything() {
    let mut bench = Bench::started();
    bench.run(60_000_000);
    let bytes = bench.line.bytes.len();
    let per_sample = bytes as f64 / 30_000.0;
    assert!(per_sample < 1.6, "{per_sample} bytes");
}

#[test]
fn core_with_all_its_buffers_fits_16_kib_of_ram() {
    let bytes = core::mem::size_of::<super::App>();
    assert!(bytes <= 16 * 1_024, "{bytes} bytes");
}
