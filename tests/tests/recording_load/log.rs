//! What is read out of the frames of a log: codes, times, losses, restarts, damage, and frames without sense.

use tipcurve::recording::load::load;
use tipcurve::recording::{Data, DeviceLog, Gap, Recording};
use tipcurve_protocol::message::Kind;
use tipcurve_protocol::{Message, ResetReason, WIRE_VERSION};
use tipcurve_tests::fuzz::wire::framed;
use tipcurve_tests::wire_log::{BLOCK, LogBuilder, PA_PER_CODE};

use super::{WHOLE, check_defects, folder};

/// An arrivals file in which every frame arrived 20 ms after its end in device time, device time
/// zero being host time 1 700 000 000 s.
fn arrivals_of(ends: &[(usize, f64)]) -> String {
    let rows: String = ends
        .iter()
        .map(|(end, t_s)| format!("{end},{:.6}\n", 1.7e9 + t_s + 0.02))
        .collect();
    format!("end_byte,host_unix_s\n{rows}")
}

fn load_log(name: &str, log: &[u8], arrivals: &str) -> (Recording, DeviceLog) {
    let folder = folder(name, log, arrivals);
    let recording = load(&folder.path().join("yard-03")).unwrap();
    let Data::Device(log) = recording.data.clone() else {
        panic!("a log must load as one");
    };
    (recording, log)
}

#[test]
fn a_whole_log_comes_back_code_for_code_and_tick_for_tick() {
    let mut b = LogBuilder::new();
    b.hello();
    b.second();
    b.mark(0);
    b.second();
    let arrivals = arrivals_of(&[(b.ends[5], 0.4), (b.bytes.len(), 2.0)]);
    let (recording, log) = load_log("whole", &b.bytes, &arrivals);

    assert_eq!(recording.name, "yard-03");
    check_defects(&recording.defects, &[]);
    assert_eq!(log.pressure_code, b.codes);
    assert_eq!(log.t_s.len(), 1_000);
    let t_s = log.t_s.to_vec();
    assert_eq!((t_s[0], t_s[1], t_s[999]), (0.0, 0.002, 1.998));
    assert_eq!(log.pressure_scale.pa_per_code, PA_PER_CODE);
    assert_eq!(
        (log.pressure_scale.code_min, log.pressure_scale.code_max),
        (-32_768, 32_767)
    );
    assert_eq!(log.sample_rate_hz, 500.0);
    assert_eq!(log.edge_t_s.len(), 24);
    assert_eq!(log.edge_t_s[..3], [0.05, 0.07, 0.09]);
    let celsius = log.slow.material_k.value.iter().map(|k| k - 273.15);
    assert!(celsius.map(|c| (c - 21.5).abs()).fold(0.0, f64::max) < 1e-9);
    assert!(
        log.slow
            .supply_v
            .value
            .iter()
            .all(|v| (v - 18.2).abs() < 1e-9)
    );
    assert_eq!(log.slow.supply_v.t_s, [0.1, 0.6, 1.1, 1.6]);
    assert!(log.slow.air_k.t_s.is_empty(), "not declared, so not fitted");
    assert_eq!(log.mark_t_s, [1.0]);
    assert!(log.gaps.is_empty());
}

#[test]
fn arrivals_pair_the_youngest_sample_of_a_row_with_its_host_time() {
    let mut b = LogBuilder::new();
    b.hello();
    b.block();
    let first = b.bytes.len();
    b.block();
    b.block();
    let arrivals = arrivals_of(&[(first, 0.1), (b.bytes.len(), 0.3)]);
    let (recording, log) = load_log("arrivals", &b.bytes, &arrivals);
    assert_eq!(log.host_epoch_unix_s, 1_700_000_000.12);
    let (logger_s, host_s): (Vec<f64>, Vec<f64>) = log.arrivals.iter().copied().unzip();
    assert_eq!(logger_s, [0.098, 0.298]);
    assert!((host_s[0]).abs() < 1e-6 && (host_s[1] - 0.2).abs() < 1e-6);
    // Zero of logger time, found from the quickest arrival: 20 ms of transport and a period late.
    let start_s = recording.started_unix_s().unwrap() - 1.7e9;
    assert!((start_s - 0.022).abs() < 1e-5, "{start_s}");
}

#[test]
fn lost_blocks_are_counted_and_placed() {
    let mut b = LogBuilder::new();
    b.hello();
    b.block();
    b.lost_block();
    b.lost_block();
    b.block();
    let (recording, log) = load_log("lost", &b.bytes, WHOLE);
    let gap = Gap {
        from_s: 0.098,
        to_s: 0.3,
        samples_lost: Some(2 * BLOCK as u64),
        edges_lost: None,
    };
    assert_eq!(log.gaps, [gap]);
    assert_eq!(log.pressure_code, b.codes);
    check_defects(
        &recording.defects,
        &[(
            "lost_samples",
            "100 of 200 samples were lost in 1 gap from 0.1 to 0.3 s; bursts there are not used; check the cable",
        )],
    );
}

#[test]
fn what_the_logger_itself_dropped_is_told_from_what_the_line_lost() {
    let mut b = LogBuilder::new();
    b.hello();
    b.block();
    b.lost_block();
    let mut health = b.health_now();
    health.dropped_samples = 50;
    health.missed_samples = 3;
    b.message(&Message::Health(health));
    let (recording, log) = load_log("dropped", &b.bytes, WHOLE);
    assert_eq!(
        log.gaps[0].samples_lost,
        Some(50),
        "a loss at the end shows in the heartbeat"
    );
    check_defects(
        &recording.defects,
        &[(
            "lost_samples",
            "50 of 100 samples were lost in 1 gap from 0.1 to 0.2 s; bursts there are not used; \
             50 were dropped by the logger, whose line was too slow, 3 the pressure sensor failed to \
             give; record at a lower rate or check the sensor's wiring",
        )],
    );
}

#[test]
fn lost_edges_are_counted_and_placed() {
    let mut b = LogBuilder::new();
    b.hello();
    b.block();
    b.edges(&[10_000, 20_000]);
    b.next_edge += 5;
    b.edges(&[80_000]);
    let (recording, log) = load_log("edges", &b.bytes, WHOLE);
    let gap = Gap {
        from_s: 0.02,
        to_s: 0.08,
        samples_lost: None,
        edges_lost: Some(5),
    };
    assert_eq!(log.gaps, [gap]);
    assert_eq!(log.edge_t_s, [0.01, 0.02, 0.08]);
    check_defects(
        &recording.defects,
        &[(
            "lost_edges",
            "5 flow edges were lost in 1 gap from 0.0 to 0.1 s (0 dropped by the logger, 0 overwritten in its \
             capture); flow there is not used; check the cable",
        )],
    );
}

#[test]
fn a_restart_goes_on_by_host_time_and_is_told_with_its_reason() {
    let mut b = LogBuilder::new();
    b.hello();
    b.second();
    let before = b.bytes.len();
    b.restart();
    b.hello();
    let mut health = b.health_now();
    health.reset_reason = ResetReason::BrownOut;
    b.message(&Message::Health(health));
    b.second();
    // The new boot's first frame with a tick arrives 4 s after the last of the old one.
    let arrivals = arrivals_of(&[(before, 1.0), (b.bytes.len(), 5.0)]);
    let (recording, log) = load_log("restart", &b.bytes, &arrivals);
    assert_eq!(log.t_s.len(), 1_000);
    let t_s = log.t_s.to_vec();
    assert!((t_s[500] - 5.0).abs() < 1e-6, "{}", t_s[500]);
    assert!(t_s.windows(2).all(|w| w[0] < w[1]));
    let samples: Vec<_> = log.gaps.iter().map(|g| g.samples_lost).collect();
    assert_eq!(
        samples,
        [None],
        "nobody knows how many samples a dead logger owed"
    );
    check_defects(
        &recording.defects,
        &[(
            "device_restart",
            "the logger started again (its supply broke down) and nothing was recorded from 1.0 to 5.0 s; \
             check its supply and plug",
        )],
    );
}

#[test]
fn a_restart_that_only_the_numbers_show_is_one_restart() {
    let mut b = LogBuilder::new();
    b.hello();
    b.second();
    b.restart();
    b.block();
    b.hello();
    b.health();
    let (recording, log) = load_log("quiet-restart", &b.bytes, "");
    assert_eq!(log.t_s.len(), 550);
    assert!(log.t_s.to_vec().windows(2).all(|w| w[0] < w[1]));
    let codes: Vec<&str> = recording.defects.iter().map(|d| d.code.as_str()).collect();
    assert_eq!(codes, ["device_restart", "no_arrivals"]);
}

#[test]
fn damage_costs_its_frame_and_is_told_once() {
    let mut b = LogBuilder::new();
    b.hello();
    b.block();
    b.block();
    b.block();
    let mut bytes = b.bytes.clone();
    // Any change but one to the delimiter.
    let hit = &mut bytes[b.ends[1] + 10];
    *hit = if *hit == 1 { 2 } else { *hit ^ 1 };
    let (recording, log) = load_log("damage", &bytes, WHOLE);
    assert_eq!(log.t_s.len(), 100);
    assert_eq!(log.gaps[0].samples_lost, Some(50));
    let codes: Vec<&str> = recording.defects.iter().map(|d| d.code.as_str()).collect();
    assert_eq!(codes, ["corrupt_frames", "lost_samples"]);
    let length = b.ends[2] - b.ends[1] - 1;
    assert_eq!(
        recording.defects[0].message,
        format!(
            "1 damaged stretch ({length} bytes) between 0.1 and 0.1 s was passed over, what was in them is counted \
             as lost; check the cable and its ground"
        )
    );
}

#[test]
fn a_torn_tail_is_told_and_everything_before_it_is_there() {
    let mut b = LogBuilder::new();
    b.hello();
    b.block();
    b.block();
    let torn = &b.bytes[..b.ends[1] + 17];
    let (recording, log) = load_log("torn", torn, WHOLE);
    assert_eq!(log.t_s.len(), 50);
    check_defects(
        &recording.defects,
        &[(
            "torn_tail",
            "the last 17 bytes of the log are half a frame and were ignored; everything up to 0.1 s is intact; \
             nothing to do",
        )],
    );
}

#[test]
fn frames_that_came_twice_are_read_once() {
    let mut b = LogBuilder::new();
    b.hello();
    b.block();
    let frame = b.bytes[b.ends[0]..].to_vec();
    b.bytes.extend_from_slice(&frame);
    b.edges(&[10_000]);
    let edges = b.bytes[b.ends[1] + frame.len()..].to_vec();
    b.bytes.extend_from_slice(&edges);
    b.block();
    let (recording, log) = load_log("twice", &b.bytes, WHOLE);
    assert_eq!((log.t_s.len(), log.edge_t_s.len()), (100, 1));
    check_defects(
        &recording.defects,
        &[(
            "repeated_frames",
            "2 frames came twice and were read once; check the serial adapter",
        )],
    );
}

/// A body of the samples kind that announces far more codes than it holds.
fn unsound_samples() -> Vec<u8> {
    let mut body = vec![WIRE_VERSION.as_byte(), Kind::Samples.as_code()];
    // Number 7, tick 100, period 1; 65535 codes, coding 0, start 0, one byte of planes.
    body.extend([7, 100, 1, 0xff, 0xff, 3, 0, 0, 1, 0b11]);
    body
}

/// The same of the edges kind: number 7, tick 100, nothing over-captured or rejected.
fn unsound_edges() -> Vec<u8> {
    let mut body = vec![WIRE_VERSION.as_byte(), Kind::Edges.as_code()];
    body.extend([7, 100, 0, 0, 0xff, 0xff, 3, 0, 0, 1, 0b11]);
    body
}

#[test]
fn frames_that_hold_no_sense_are_counted_and_disturb_nothing() {
    let mut b = LogBuilder::new();
    b.hello();
    b.second();
    let mut with_unsound = b.clone();
    b.second();
    for body in [
        unsound_samples(),
        unsound_samples(),
        unsound_edges(),
        unsound_edges(),
    ] {
        with_unsound.bytes.extend(framed(&body));
    }
    with_unsound.second();
    let (_, sound) = load_log("sound", &b.bytes, WHOLE);
    let (recording, log) = load_log("unsound", &with_unsound.bytes, WHOLE);
    assert_eq!(log, sound);
    check_defects(
        &recording.defects,
        &[
            (
                "repeated_frames",
                "1 frames came twice and were read once; check the serial adapter",
            ),
            (
                "unsound_frames",
                "3 frames passed their check but hold no sense and were passed over; update the firmware",
            ),
        ],
    );
}

#[test]
fn a_scale_that_changes_is_carried_to_the_first_one() {
    let mut b = LogBuilder::new();
    b.hello();
    b.block();
    b.hello_with(2.0 * PA_PER_CODE);
    b.block();
    let (recording, log) = load_log("scale", &b.bytes, WHOLE);
    assert_eq!(log.pressure_code[..50], b.codes[..50]);
    let doubled: Vec<i32> = b.codes[50..].iter().map(|c| 2 * c).collect();
    assert_eq!(log.pressure_code[50..], doubled);
    check_defects(
        &recording.defects,
        &[(
            "scale_changed",
            "the logger changed its scales at 0.1 s; later codes were carried to the first scale; record anew \
             after changing a sensor",
        )],
    );
}

#[test]
fn slow_readings_before_the_first_hello_get_its_scale() {
    let mut b = LogBuilder::new();
    b.block();
    b.slow(2_000, 17_000);
    b.hello();
    let (_, log) = load_log("early", &b.bytes, WHOLE);
    assert!((log.slow.material_k.value[0] - 293.15).abs() < 1e-9);
    assert_eq!(log.slow.supply_v.value, [17.0]);
}
