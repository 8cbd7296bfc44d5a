//! The logger: the firmware's own portable core, run in virtual time on the simulated rig.
//!
//! Nothing of sampling, edge blocks, slow channels or frames is written here: the rig's sensors are
//! behind the firmware's traits, and what comes out are the bytes that a board would have sent,
//! with the time at which a host would have got them through a serial line.

use tipcurve_firmware::{App, Config, PressureSensor, SensorError, SlowSensors};
use tipcurve_protocol::Quantity;
use tipcurve_protocol::message::Channel;

use super::index::{nearest_code, position, real, ticks_of};
use super::performance::Performance;
use super::random::{Part, RandomStream};
use super::scenario::Scenario;
use super::trace::value_at;

/// Baud of the line; ten bits a byte.
const BAUD: f64 = 115_200.0;

/// Device time between two looks at the line, s.
const LINE_STEP_S: f64 = 0.005;

/// Runs the logger over a performance and gives each portion of bytes to `take` with the Unix time at
/// which it arrived. `edges_s` are the true times of the meter's edges. Returns the samples taken.
///
/// # Errors
/// The first error of `take`; the run ends there.
pub fn run_logger<E>(
    scenario: &Scenario,
    performance: &Performance,
    edges_s: &[f64],
    sample_rate_hz: u16,
    mut take: impl FnMut(&[u8], f64) -> Result<(), E>,
) -> Result<usize, E> {
    let mut app = App::new(config(scenario, sample_rate_hz));
    let mut bench = Bench::new(scenario, performance);
    let mut line = Line::new(scenario);
    let mut edges = edges_s.iter().map(|t_s| scenario.logger_time_s(*t_s));
    let mut next_edge_s = edges.next();
    let end_s = scenario.logger_time_s(performance.trace.duration_s());
    let mut n_samples = 0;
    let mut now_ticks = 0;
    let mut line_s = 0.0;
    loop {
        let now_s = seconds(now_ticks);
        if now_s >= end_s {
            break;
        }
        while let Some(edge_s) = next_edge_s.filter(|edge_s| *edge_s <= now_s) {
            app.on_edge(ticks_of(edge_s));
            next_edge_s = edges.next();
        }
        bench.now_s = bench.true_time_s(now_s);
        app.on_sample_tick(now_ticks, &mut bench);
        app.poll(now_ticks, &mut bench);
        n_samples += 1;
        if now_s >= line_s {
            line.carry(&mut app, now_ticks, bench.now_s, LINE_STEP_S, &mut take)?;
            line_s += LINE_STEP_S;
        }
        now_ticks += u64::from(app.period_ticks());
    }
    app.flush();
    line.carry(&mut app, now_ticks, bench.now_s, 10.0, &mut take)?;
    Ok(n_samples)
}

#[expect(clippy::cast_precision_loss, reason = "2^53 microseconds are 285 years")]
fn seconds(ticks: u64) -> f64 {
    ticks as f64 * 1.0e-6
}

/// A board as the rig's owner built it: the default channels, the pressure scaled by its transducer.
fn config(scenario: &Scenario, sample_rate_hz: u16) -> Config {
    let transducer = &scenario.instruments.transducer;
    let mut config = Config {
        device_id: 0x51D0_0000 | (scenario.seed & 0xFFFF),
        boot_id: 1,
        sample_rate_hz,
        ..Config::default()
    };
    for channel in &mut config.channels {
        if channel.quantity == Quantity::Pressure {
            *channel = Channel {
                scale_nano: nano(transducer.step_pa()),
                offset_nano: 0,
                min_code: transducer.lowest_code(),
                max_code: transducer.highest_code(),
                ..*channel
            };
        }
    }
    config
}

/// A scale in nano-units.
#[expect(
    clippy::cast_possible_truncation,
    reason = "a step of pressure is below 1e5 Pa: 1e14 nano-pascals"
)]
fn nano(scale: f64) -> i64 {
    (scale * 1.0e9).round() as i64
}

/// The rig behind the firmware's sensor traits.
struct Bench<'a> {
    scenario: &'a Scenario,
    performance: &'a Performance,
    pressure_pa: &'a [f64],
    channels: Config,
    random: RandomStream,
    now_s: f64,
    last_code: i32,
}

impl<'a> Bench<'a> {
    fn new(scenario: &'a Scenario, performance: &'a Performance) -> Self {
        Self {
            scenario,
            performance,
            pressure_pa: performance.trace.tap_pa(scenario.rig.tap),
            channels: Config::default(),
            random: RandomStream::new(scenario.seed, Part::Sensors),
            now_s: 0.0,
            last_code: 0,
        }
    }

    /// True time at a time of the device's clock, s.
    fn true_time_s(&self, logger_s: f64) -> f64 {
        logger_s / (1.0 + self.scenario.instruments.clock_ppm * 1.0e-6)
    }

    /// True value of a slow quantity, SI, with its sensor's error.
    fn slow_value(&mut self, quantity: Quantity) -> Option<f64> {
        let point = self.performance.trace.slow_at(self.now_s)?;
        let error_k = self.scenario.instruments.temperature_error_k;
        let (air_k, rh_ratio) = self.scenario.air;
        Some(match quantity {
            Quantity::CoatingTemperature => point.material_k + error_k + self.random.normal(0.03),
            Quantity::AirTemperature => air_k + 0.5 * error_k + self.random.normal(0.03),
            Quantity::AirHumidity => rh_ratio + self.random.normal(0.002),
            Quantity::SupplyVoltage => point.supply_v + self.random.normal(0.01),
            Quantity::SupplyCurrent => point.supply_a + self.random.normal(0.01),
            _ => return None,
        })
    }
}

impl PressureSensor for Bench<'_> {
    fn read_code(&mut self) -> Result<i32, SensorError> {
        let transducer = &self.scenario.instruments.transducer;
        if !transducer.is_stuck(self.now_s) {
            let true_pa = value_at(self.pressure_pa, self.now_s);
            self.last_code = transducer.code(true_pa, self.now_s, &mut self.random);
        }
        Ok(self.last_code)
    }
}

impl SlowSensors for Bench<'_> {
    fn read_code(&mut self, quantity: Quantity) -> Result<i32, SensorError> {
        let value = self.slow_value(quantity).ok_or(SensorError::Absent)?;
        let channel = self
            .channels
            .channels
            .iter()
            .find(|channel| channel.quantity == quantity)
            .ok_or(SensorError::Absent)?;
        let per_code = channel.value_of(1) - channel.value_of(0);
        let code = (value - channel.value_of(0)) / per_code;
        Ok(nearest_code(code, channel.min_code, channel.max_code))
    }
}

/// The serial line and the host's end of it: so many bytes a second, and delays.
struct Line {
    random: RandomStream,
    start_unix_s: f64,
    latest_arrival_s: f64,
}

impl Line {
    fn new(scenario: &Scenario) -> Self {
        Self {
            random: RandomStream::new(scenario.seed, Part::Line),
            start_unix_s: scenario.start.unix_s,
            latest_arrival_s: 0.0,
        }
    }

    /// Carries what fits into `duration_s` and gives it to `take`.
    fn carry<E>(
        &mut self,
        app: &mut App,
        now_ticks: u64,
        true_s: f64,
        duration_s: f64,
        take: &mut impl FnMut(&[u8], f64) -> Result<(), E>,
    ) -> Result<(), E> {
        let mut room = position(duration_s * BAUD / 10.0);
        let mut portion = Vec::new();
        while room > 0 {
            let waiting = app.next_bytes(now_ticks);
            if waiting.is_empty() {
                break;
            }
            let sent = waiting.len().min(room);
            portion.extend_from_slice(&waiting[..sent]);
            app.sent(sent);
            room -= sent;
        }
        if portion.is_empty() {
            return Ok(());
        }
        // Bytes take their time on the line, then wait for the host: a little always, now and
        // then for as long as the host is busy with something else.
        let line_s = real(portion.len()) * 10.0 / BAUD;
        let busy_s = if self.random.chance(0.01) {
            self.random.uniform(0.02, 0.08)
        } else {
            0.0
        };
        let delay_s = 0.0012 + self.random.exponential(0.0018) + busy_s;
        self.latest_arrival_s = self.latest_arrival_s.max(true_s + line_s + delay_s);
        take(&portion, self.start_unix_s + self.latest_arrival_s)
    }
}
