//! Commands from the host and their answers.

use std::vec::Vec;

use tipcurve_protocol::{Action, ClockEcho, Mark, Message, Outcome, frame};

use super::{App, Bench, Config, Line, receive, std};
use crate::limits::ANSWER_QUEUE;
#[test]
fn stopped_means_stopped_and_start_resumes_without_a_gap_in_numbers() {
    let mut bench = Bench::started();
    bench.run(1_000_000);
    bench.command(1, Action::Stop);
    bench.run(100_000);
    let reads = bench.rig.n_reads;
    bench.run(2_000_000);
    assert_eq!(bench.rig.n_reads, reads, "no sensor is read while stopped");
    assert!(bench.app.is_alive(bench.now));
    bench.command(2, Action::Start);
    bench.run(1_000_000);
    let received = bench.finish();
    assert_eq!(received.samples.totals().lost, 0);
    assert_eq!(received.codes.len(), 1_000);
    assert_eq!(received.last_health().missed_samples, 0);
    let running: Vec<bool> = received
        .replies
        .iter()
        .map(|reply| reply.is_running)
        .collect();
    assert_eq!(running, [false, true]);
}

#[test]
fn rate_changes_between_blocks_and_is_refused_outside_the_limits() {
    let mut bench = Bench::started();
    bench.run(700_000);
    bench.command(1, Action::SetRate(1_000));
    assert_eq!(bench.app.period_ticks(), 1_000);
    bench.run(700_000);
    bench.command(2, Action::SetRate(1_001));
    bench.command(3, Action::SetRate(0));
    assert_eq!(bench.app.period_ticks(), 1_000);
    bench.run(700_000);
    let received = bench.finish();
    assert_eq!(received.samples.totals().lost, 0);
    let outcomes: Vec<Outcome> = received.replies.iter().map(|reply| reply.outcome).collect();
    assert_eq!(
        outcomes,
        [
            Outcome::Done,
            Outcome::RateOutOfRange,
            Outcome::RateOutOfRange
        ]
    );
    let steps: Vec<u64> = received
        .sample_ticks
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .collect();
    assert_eq!(steps[0], 2_000);
    assert_eq!(steps.last(), Some(&1_000));
    assert_eq!(received.last_health().missed_samples, 0);
}

#[test]
fn identify_brings_a_hello_and_then_the_reply() {
    let mut bench = Bench::started();
    bench.run(50_000);
    let before = bench.line.bytes.len();
    bench.command(5, Action::Identify);
    bench.run(50_000);
    let received = receive(&bench.line.bytes[before..]);
    assert_eq!(received.hellos.len(), 1);
    assert_eq!(received.replies.len(), 1);
    assert_eq!(received.replies[0].id, 5);
}

#[test]
fn replies_keep_the_order_of_commands_that_came_at_once() {
    let mut bench = Bench::started();
    bench.run(50_000);
    let before = bench.line.bytes.len();
    bench.command(5, Action::Identify);
    bench.command(6, Action::SetRate(500));
    bench.command(7, Action::Identify);
    bench.run(50_000);
    let received = receive(&bench.line.bytes[before..]);
    let ids: Vec<u16> = received.replies.iter().map(|reply| reply.id).collect();
    assert_eq!((ids, received.hellos.len()), (std::vec![5, 6, 7], 2));
}

#[test]
fn clock_echo_returns_token_and_both_times() {
    let mut bench = Bench::started();
    bench.line = Line::blocked();
    bench.run(40_000);
    let asked = bench.now;
    bench.command(6, Action::EchoClock { token: u64::MAX });
    bench.run(10_000);
    let answered = bench.now;
    bench.line.room = None;
    bench.run(500);
    let received = bench.finish();
    let echo = ClockEcho {
        id: 6,
        token: u64::MAX,
        received_ticks: asked,
        sent_ticks: answered,
    };
    assert_eq!(received.echoes, [echo]);
}

#[test]
fn unknown_and_damaged_commands_have_defined_answers_and_are_counted() {
    let mut bench = Bench::started();
    bench.run(50_000);
    bench.command(
        9,
        Action::Other {
            code: 200,
            argument: 1,
        },
    );
    let damaged = b"\x03\x10\x41garbage\0";
    let overlong = [0x55; 400];
    let stray = {
        let mark = Message::Mark(Mark {
            first_mark: 0,
            device_ticks: 0,
        });
        let mut buffer = [0; 64];
        frame::encode(&mark, &mut buffer).unwrap().to_vec()
    };
    for byte in [&damaged[..], &overlong, &[0], &stray].concat() {
        bench.app.on_rx_byte(bench.now, byte);
    }
    bench.run(1_100_000);
    let received = bench.finish();
    assert_eq!(received.replies.len(), 1);
    assert_eq!(received.replies[0].outcome, Outcome::NotKnown);
    assert_eq!(received.last_health().bad_frames, 3);
}

#[test]
fn flooding_host_loses_answers_and_no_samples() {
    let mut bench = Bench::started();
    bench.line = Line::blocked();
    for id in 0..1_000 {
        bench.command(id, Action::Start);
    }
    bench.line.room = None;
    bench.run(2_000_000);
    let received = bench.finish();
    assert_eq!(received.replies.len(), ANSWER_QUEUE);
    let dropped = usize::try_from(received.last_health().dropped_others).unwrap();
    assert_eq!(dropped, 1_000 - ANSWER_QUEUE);
    assert_eq!(received.samples.totals().lost, 0);
}

#[test]
fn rate_of_the_configuration_is_brought_inside_the_limits() {
    for (asked, period) in [(0, 100_000), (5, 100_000), (5_000, 1_000), (250, 4_000)] {
        let app = App::new(Config {
            sample_rate_hz: asked,
            ..Config::default()
        });
        assert_eq!(app.period_ticks(), period);
    }
}
