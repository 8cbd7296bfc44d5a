//! The firmware's core behind sensors that are drawn.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tipcurve_firmware::{App, Config, PressureSensor, SensorError, SlowSensors};
use tipcurve_protocol::Quantity;

#[path = "../../../host/tests/at_the_rig/readings.rs"]
mod readings;
use readings::{PA_PER_CODE, code, seconds, slow, ticks_of};

/// Samples a second.
pub const SAMPLE_RATE_HZ: u16 = 500;

/// Volume of one pulse of the meter, m3.
pub(super) const PULSE_VOLUME_M3: f64 = 4.0e-7;

/// Relieved at first, then every two minutes a pull of the trigger, s.
const RELIEVED_S: f64 = 4.0;
const CYCLE_S: f64 = 120.0;
const SPRAY_S: f64 = 6.0;

/// The core, and how far it is.
pub(super) struct Device {
    pub(super) app: App,
    pub(super) now_ticks: u64,
    pub(super) n_samples: u64,
    pub(super) n_edges: u64,
    next_ticks: u64,
    next_edge_s: f64,
    sensors: Sensors,
}

impl Device {
    pub(super) fn new() -> Self {
        Self {
            app: App::new(Config {
                device_id: 24,
                boot_id: 1,
                sample_rate_hz: SAMPLE_RATE_HZ,
                ..Config::default()
            }),
            now_ticks: 0,
            n_samples: 0,
            n_edges: 0,
            next_ticks: 0,
            next_edge_s: RELIEVED_S,
            sensors: Sensors {
                t_s: 0.0,
                random: ChaCha8Rng::seed_from_u64(500),
            },
        }
    }

    /// Samples and edges before a time of the device, s.
    pub(super) fn run_to(&mut self, t_s: f64) {
        let end_ticks = ticks_of(t_s);
        while self.next_ticks < end_ticks {
            self.now_ticks = self.next_ticks;
            self.sensors.t_s = seconds(self.now_ticks);
            self.edges_to(self.sensors.t_s);
            self.app.on_sample_tick(self.now_ticks, &mut self.sensors);
            self.app.poll(self.now_ticks, &mut self.sensors);
            self.n_samples += 1;
            self.next_ticks += u64::from(self.app.period_ticks());
        }
    }

    fn edges_to(&mut self, t_s: f64) {
        while self.next_edge_s <= t_s {
            let flow = drawn(self.next_edge_s).1;
            if flow > 0.0 {
                self.app.on_edge(ticks_of(self.next_edge_s));
                self.n_edges += 1;
                self.next_edge_s += PULSE_VOLUME_M3 / flow;
            } else {
                self.next_edge_s = next_pull_s(self.next_edge_s);
            }
        }
    }
}

/// Pressure, Pa, and flow, m3/s.
fn drawn(t_s: f64) -> (f64, f64) {
    let since_s = t_s - RELIEVED_S;
    if since_s < 0.0 {
        return (0.0, 0.0);
    }
    let stalled_pa = 8.0e6 + 2.0e6 * ((since_s / CYCLE_S).floor() % 6.0);
    if since_s % CYCLE_S < CYCLE_S - SPRAY_S {
        return (stalled_pa, 0.0);
    }
    let sprayed_pa = 0.93 * stalled_pa;
    let ripple = 1.0 + 0.02 * (t_s * 6.0 * std::f64::consts::TAU).sin();
    (sprayed_pa * ripple, 1.6e-5 * (sprayed_pa / 1.0e7).sqrt())
}

/// A little behind the next opening of the trigger.
fn next_pull_s(t_s: f64) -> f64 {
    let since_s = t_s - RELIEVED_S;
    let cycle = (since_s / CYCLE_S).floor();
    let opens_s = RELIEVED_S + cycle * CYCLE_S + (CYCLE_S - SPRAY_S);
    let wait_s = if opens_s > t_s { 0.0 } else { CYCLE_S };
    opens_s + wait_s + 1.0e-3
}

struct Sensors {
    t_s: f64,
    random: ChaCha8Rng,
}

impl PressureSensor for Sensors {
    fn read_code(&mut self) -> Result<i32, SensorError> {
        let noise = f64::from(self.random.random_range(-2..=2_i32));
        Ok(code(drawn(self.t_s).0 / PA_PER_CODE + noise))
    }
}

impl SlowSensors for Sensors {
    fn read_code(&mut self, quantity: Quantity) -> Result<i32, SensorError> {
        slow(quantity, 18_000, 2_000)
    }
}
