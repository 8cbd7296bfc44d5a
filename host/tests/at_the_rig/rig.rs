//! A rig for tests of real lines: the firmware's core, paced by the clock, behind any byte stream.
//!
//! Answers commands as a board does. Its pressure and flow are a plain drawing of a trial (relieved,
//! stalled, three seconds of spray, a step of the dial), not physics: what is tested is the way of the
//! bytes. What went out, and when, is kept for the test to compare with.

use std::io::{ErrorKind, Read, Write};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use tipcurve_firmware::{App, Config, PressureSensor, SensorError, SlowSensors};
use tipcurve_protocol::Quantity;

#[path = "readings.rs"]
mod readings;
use readings::{PA_PER_CODE, code, seconds, slow, ticks_of};

/// Between two looks at the clock.
const STEP: Duration = Duration::from_millis(4);

/// Pulses of the meter per cubic metre.
const K_FACTOR_PER_M3: f64 = 2.5e6;

/// The line is relieved for so long at the start, s.
const RELIEVED_S: f64 = 2.0;

/// One setting of the dial: stalled, then sprayed, s.
const CYCLE_S: f64 = 9.0;
const SPRAY_S: f64 = 3.0;

/// What is plugged in.
#[derive(Debug, Clone, Copy)]
pub struct Plugged {
    pub device_id: u64,
    pub boot_id: u32,
    pub sample_rate_hz: u16,
    /// Device seconds a second.
    pub speed: f64,
    /// Pressure, Pa, and flow, m3/s, at a device time.
    pub draw: fn(f64) -> (f64, f64),
}

impl Default for Plugged {
    fn default() -> Self {
        Self {
            device_id: 0x51D0_7E57,
            boot_id: 1,
            sample_rate_hz: 500,
            speed: 1.0,
            draw: drawn,
        }
    }
}

/// What went out.
#[derive(Debug, Default)]
pub struct Sent {
    pub bytes: Vec<u8>,
    /// When, and how many bytes had gone out by then.
    pub marks: Vec<(Instant, usize)>,
}

impl Sent {
    /// Bytes that had gone out at a moment.
    pub fn by(&self, at: Instant) -> usize {
        let n = self.marks.partition_point(|(when, _)| *when <= at);
        n.checked_sub(1).map_or(0, |i| self.marks[i].1)
    }
}

/// A rig that plays on a thread of its own. Dropped, it stops and its line closes.
pub struct Rig {
    pub sent: Arc<Mutex<Sent>>,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Rig {
    /// Plays to `out`, taking commands from `commands`, until dropped or the line breaks.
    pub fn play(
        plugged: Plugged,
        commands: impl Read + Send + 'static,
        out: impl Write + Send + 'static,
    ) -> Self {
        let sent = Arc::new(Mutex::new(Sent::default()));
        let stop = Arc::new(AtomicBool::new(false));
        let (kept, stopped) = (Arc::clone(&sent), Arc::clone(&stop));
        let thread = std::thread::spawn(move || {
            let (sender, orders) = channel();
            let listening = Arc::clone(&stopped);
            let listener = std::thread::spawn(move || listen(commands, &sender, &listening));
            Player::new(plugged).play(&orders, out, &kept, &stopped);
            stopped.store(true, Ordering::Relaxed);
            let _ = listener.join();
        });
        Self {
            sent,
            stop,
            thread: Some(thread),
        }
    }

    /// Waits until the line breaks.
    #[allow(dead_code)] // The example does, the tests do not.
    pub fn wait(mut self) {
        if let Some(thread) = self.thread.take() {
            thread.join().unwrap();
        }
    }
}

impl Drop for Rig {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// Takes what the host sends. A line that nobody has opened yet is waited for.
fn listen(mut commands: impl Read, orders: &Sender<u8>, stop: &AtomicBool) {
    let mut buffer = [0; 256];
    while !stop.load(Ordering::Relaxed) {
        match commands.read(&mut buffer) {
            Ok(n @ 1..) => {
                for byte in &buffer[..n] {
                    if orders.send(*byte).is_err() {
                        return;
                    }
                }
            }
            Ok(0) | Err(_) => std::thread::sleep(STEP),
        }
    }
}

/// True when a write may succeed later.
fn is_wait(kind: ErrorKind) -> bool {
    matches!(
        kind,
        ErrorKind::WouldBlock | ErrorKind::TimedOut | ErrorKind::Interrupted
    )
}

struct Player {
    app: App,
    plugged: Plugged,
    next_tick: u64,
    next_edge_s: f64,
}

impl Player {
    fn new(plugged: Plugged) -> Self {
        let mut config = Config {
            device_id: plugged.device_id,
            boot_id: plugged.boot_id,
            sample_rate_hz: plugged.sample_rate_hz,
            ..Config::default()
        };
        config.board.clear();
        let _ = config.board.push_str("test rig");
        Self {
            app: App::new(config),
            plugged,
            next_tick: 0,
            next_edge_s: 0.0,
        }
    }

    fn play(
        &mut self,
        orders: &Receiver<u8>,
        mut out: impl Write,
        sent: &Mutex<Sent>,
        stop: &AtomicBool,
    ) {
        let begun = Instant::now();
        while !stop.load(Ordering::Relaxed) {
            let now_s = begun.elapsed().as_secs_f64() * self.plugged.speed;
            let ticks = ticks_of(now_s);
            for byte in orders.try_iter() {
                self.app.on_rx_byte(ticks, byte);
            }
            self.advance(ticks);
            loop {
                let waiting = self.app.next_bytes(ticks);
                if waiting.is_empty() {
                    break;
                }
                match out.write(waiting) {
                    Ok(0) => return,
                    Ok(n) => {
                        let mut sent = sent.lock().unwrap();
                        sent.bytes.extend_from_slice(&waiting[..n]);
                        let total = sent.bytes.len();
                        sent.marks.push((Instant::now(), total));
                        drop(sent);
                        self.app.sent(n);
                    }
                    Err(error) if is_wait(error.kind()) => break,
                    Err(_) => return,
                }
            }
            std::thread::sleep(STEP);
        }
    }

    /// Samples and edges up to a tick.
    fn advance(&mut self, to_ticks: u64) {
        while self.next_tick <= to_ticks {
            let t_s = seconds(self.next_tick);
            while self.next_edge_s <= t_s {
                let flow = (self.plugged.draw)(self.next_edge_s).1;
                if flow > 0.0 {
                    self.app.on_edge(ticks_of(self.next_edge_s));
                    self.next_edge_s += 1.0 / (flow * K_FACTOR_PER_M3);
                } else {
                    self.next_edge_s += 0.01;
                }
            }
            let mut sensors = Sensors {
                t_s,
                draw: self.plugged.draw,
            };
            self.app.on_sample_tick(self.next_tick, &mut sensors);
            self.app.poll(self.next_tick, &mut sensors);
            self.next_tick += u64::from(self.app.period_ticks());
        }
    }
}

/// Pressure, Pa, and flow, m3/s, of the drawing.
pub fn drawn(t_s: f64) -> (f64, f64) {
    let since_s = t_s - RELIEVED_S;
    if since_s < 0.0 {
        return (1.0e5, 0.0);
    }
    let step = (since_s / CYCLE_S).floor() % 6.0;
    let stalled_pa = 8.0e6 + 2.0e6 * step;
    if since_s % CYCLE_S < CYCLE_S - SPRAY_S {
        return (stalled_pa, 0.0);
    }
    let ripple = 1.0 + 0.02 * (t_s * 6.0 * std::f64::consts::TAU).sin();
    let sprayed_pa = 0.93 * stalled_pa;
    let flow_m3_per_s = 1.6e-5 * (sprayed_pa / 1.0e7).sqrt();
    (sprayed_pa * ripple, flow_m3_per_s)
}

struct Sensors {
    t_s: f64,
    draw: fn(f64) -> (f64, f64),
}

impl PressureSensor for Sensors {
    fn read_code(&mut self) -> Result<i32, SensorError> {
        Ok(code((self.draw)(self.t_s).0 / PA_PER_CODE))
    }
}

impl SlowSensors for Sensors {
    fn read_code(&mut self, quantity: Quantity) -> Result<i32, SensorError> {
        let spray = (self.draw)(self.t_s).1 > 0.0;
        let (supply_mv, supply_ma) = if spray {
            (17_600, 14_000)
        } else {
            (18_400, 300)
        };
        slow(quantity, supply_mv, supply_ma)
    }
}
