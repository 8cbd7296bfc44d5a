//! The firmware's own core fed with a scripted rig: the page must show what was sprayed.

use tipcurve_firmware::{App, Config, PressureSensor, SensorError, SlowSensors};
use tipcurve_protocol::Quantity;

use super::*;
use crate::live::snapshot::TriggerState;

struct Rig {
    code: i32,
}

impl PressureSensor for Rig {
    fn read_code(&mut self) -> Result<i32, SensorError> {
        Ok(self.code)
    }
}

impl SlowSensors for Rig {
    fn read_code(&mut self, quantity: Quantity) -> Result<i32, SensorError> {
        match quantity {
            Quantity::SupplyVoltage => Ok(18_000),
            _ => Err(SensorError::Absent),
        }
    }
}

/// Runs the core for `seconds` at `bar` with edges at `edge_hz`, into the bench.
struct Bed {
    app: App,
    now: u64,
    next_edge: f64,
    bench: Bench,
    per_bar: f64,
}

impl Bed {
    fn new(sample_rate_hz: u16) -> Self {
        let app = App::new(Config {
            device_id: 0xDE30,
            boot_id: 1,
            sample_rate_hz,
            ..Config::default()
        });
        Self {
            app,
            now: 0,
            next_edge: 0.0,
            bench: Bench::new(
                Scale {
                    pulse_volume_m3: Some(1.0e-6),
                    ..Scale::default()
                },
                Arc::default(),
            ),
            per_bar: 66.0,
        }
    }

    fn run(&mut self, seconds: f64, bar: f64, edge_hz: f64) {
        #[expect(clippy::cast_possible_truncation, reason = "a test's small code")]
        let mut rig = Rig {
            code: (bar * self.per_bar).round() as i32,
        };
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a test's short time"
        )]
        let end = self.now + (seconds * 1e6) as u64;
        self.next_edge = self.now as f64;
        while self.now < end {
            self.now += u64::from(self.app.period_ticks());
            while edge_hz > 0.0 && self.next_edge < self.now as f64 {
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "a positive time"
                )]
                self.app.on_edge(self.next_edge as u64);
                self.next_edge += 1e6 / edge_hz;
            }
            self.app.on_sample_tick(self.now, &mut rig);
            self.app.poll(self.now, &mut rig);
            loop {
                let bytes = self.app.next_bytes(self.now);
                if bytes.is_empty() {
                    break;
                }
                let sent = bytes.len();
                self.bench.feed(bytes, 1.0e9 + self.now as f64 * 1e-6);
                self.app.sent(sent);
            }
        }
    }
}

#[test]
fn the_page_follows_a_pull_of_the_trigger() {
    for rate_hz in [100, 500, 1_000] {
        let mut bed = Bed::new(rate_hz);
        bed.run(4.0, 150.0, 0.0);
        let held = *bed.bench.figures();
        assert_eq!(held.trigger, TriggerState::Holding, "{rate_hz} Hz");
        assert!((held.pressure_pa.unwrap() - 150.0e5).abs() < 0.1e5);
        assert_eq!(held.flow_m3_per_s, Some(0.0));
        bed.run(4.0, 120.0, 20.0);
        let spraying = *bed.bench.figures();
        assert_eq!(spraying.trigger, TriggerState::Spraying, "{rate_hz} Hz");
        assert!((spraying.flow_m3_per_s.unwrap() / 2.0e-5 - 1.0).abs() < 0.02);
        assert!(
            (spraying.sag_ratio.unwrap() - 0.2).abs() < 0.03,
            "{spraying:?}"
        );
        assert_eq!(spraying.supply_v, Some(18.0));
        bed.run(4.0, 150.0, 0.0);
        assert_eq!(bed.bench.figures().trigger, TriggerState::Holding);
        assert_eq!(bed.bench.figures().flow_m3_per_s, Some(0.0));
    }
}

#[test]
fn trace_shows_pressure_everywhere_and_flow_where_it_flowed() {
    let mut bed = Bed::new(500);
    bed.run(4.0, 150.0, 0.0);
    bed.run(4.0, 120.0, 20.0);
    bed.run(6.0, 150.0, 0.0);
    let trace = bed.bench.take_update().trace.unwrap();
    let empty = trace.low_pa.iter().filter(|pa| pa.is_none()).count();
    assert!(empty <= 1, "{empty} empty bins");
    let flowing: Vec<_> = trace
        .flow_m3_per_s
        .iter()
        .filter(|flow| flow.is_some_and(|f| f > 1.0e-6))
        .collect();
    assert!((76..=84).contains(&flowing.len()), "{}", flowing.len());
    let unknown = trace.flow_m3_per_s.iter().filter(|f| f.is_none()).count();
    assert!(unknown < 30, "{unknown} bins without flow");
}

#[test]
fn noise_between_frames_and_a_lost_chunk_do_not_stop_the_page() {
    let mut bed = Bed::new(500);
    bed.run(3.0, 100.0, 0.0);
    bed.bench.feed(&[0xA5; 5_000], 1.0e9 + 3.0);
    bed.run(3.0, 90.0, 0.0);
    assert!((bed.bench.figures().pressure_pa.unwrap() - 90.0e5).abs() < 0.1e5);
}

#[test]
fn a_restarted_device_goes_on_in_time() {
    let mut bed = Bed::new(500);
    bed.run(3.0, 100.0, 10.0);
    let before_s = bed.bench.figures().t_s.unwrap();
    let now = bed.now;
    bed.app = App::new(Config {
        device_id: 0xDE30,
        boot_id: 2,
        sample_rate_hz: 500,
        ..Config::default()
    });
    bed.now = 0;
    bed.run(3.0, 80.0, 10.0);
    // Its arrivals were stamped from its own tick 0, which lies before: time never goes back.
    assert!(now > 0 && bed.bench.figures().t_s.unwrap() >= before_s);
    assert!((bed.bench.figures().pressure_pa.unwrap() - 80.0e5).abs() < 0.1e5);
}
