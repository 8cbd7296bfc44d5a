//! Counts the core's instructions on the emulated processor.
//!
//! Runs [`App`] for [`SECONDS`] of virtual time at 1 kHz on a quiet and on a rippling signal, with 100 edges a
//! second and all slow channels, and writes one line of text for each to the first serial port. To be run
//! with `-icount shift=0`, where the machine's nanoseconds are instructions; the first line checks that
//! against a loop of known length. Reading the counter costs about ten instructions, which are included.
#![no_std]
#![no_main]

#[path = "../diagnostics.rs"]
mod diagnostics;
#[path = "../machine.rs"]
mod machine;

use core::fmt::Write;

use cortex_m_rt::entry;
use tipcurve_firmware::{App, Config, PressureSensor, SensorError, SlowSensors};
use tipcurve_protocol::Quantity;

use machine::{Counter, DATA, Machine};

/// Virtual seconds of each run: twenty or more sample blocks.
const SECONDS: u64 = 20;

const RATE_HZ: u16 = 1_000;

#[entry]
fn main() -> ! {
    Machine::enable_ports();
    let counter = Counter::start();
    check_counter(&counter);
    let app_bytes = size_of::<App>();
    let _ = writeln!(Text, "size app_bytes={app_bytes}");
    run(&counter, "quiet", 0);
    run(&counter, "ripple", 700);
    DATA.put_all(b"end\n");
    halt()
}

/// A thousand turns of two instructions, and what the counter says.
fn check_counter(counter: &Counter) {
    let before = counter.read();
    turn_1000();
    let counted = counter.read().wrapping_sub(before);
    let _ = writeln!(Text, "check expected=2000 counted={counted}");
}

#[expect(unsafe_code, reason = "a loop whose instructions are known")]
fn turn_1000() {
    // SAFETY: changes one register and the flags, both declared.
    unsafe {
        core::arch::asm!("2:", "subs {n}, #1", "bne 2b", n = inout(reg) 1_000 => _);
    }
}

/// What each part cost.
#[derive(Default)]
struct Cost {
    total: u64,
    largest: u32,
}

impl Cost {
    fn add(&mut self, instructions: u32) {
        self.total += u64::from(instructions);
        self.largest = self.largest.max(instructions);
    }
}

fn run(counter: &Counter, signal: &str, amplitude: i32) {
    let config = Config {
        sample_rate_hz: RATE_HZ,
        ..Config::default()
    };
    let mut app = App::new(config);
    let mut bench = Bench {
        random: 1,
        phase: 0,
        amplitude,
        code: 0,
    };
    let (mut sample, mut edge, mut poll, mut send) = (
        Cost::default(),
        Cost::default(),
        Cost::default(),
        Cost::default(),
    );
    let mut bytes = 0;
    for ms in 0..SECONDS * u64::from(RATE_HZ) {
        let now = ms * 1_000;
        bench.step();
        let at = counter.read();
        app.on_sample_tick(now, &mut bench);
        let at = note(counter, &mut sample, at);
        if ms % 10 == 0 {
            app.on_edge(now);
        }
        let at = note(counter, &mut edge, at);
        app.poll(now, &mut bench);
        let at = note(counter, &mut poll, at);
        let ready = app.next_bytes(now).len();
        app.sent(ready);
        note(counter, &mut send, at);
        bytes += ready;
    }
    let samples = SECONDS * u64::from(RATE_HZ);
    let parts = [
        ("sample", &sample),
        ("edge", &edge),
        ("poll", &poll),
        ("send", &send),
    ];
    let _ = write!(Text, "run signal={signal} samples={samples} bytes={bytes}");
    for (name, cost) in parts {
        let (total, largest) = (cost.total, cost.largest);
        let _ = write!(Text, " {name}_total={total} {name}_largest={largest}");
    }
    let _ = writeln!(Text);
}

/// Books what went by since `at`; the counter now.
fn note(counter: &Counter, cost: &mut Cost, at: u32) -> u32 {
    cost.add(counter.read().wrapping_sub(at));
    counter.read()
}

/// A transducer with noise of about one code and a triangular stroke ripple of 12 Hz.
struct Bench {
    random: u32,
    phase: u32,
    amplitude: i32,
    code: i32,
}

impl Bench {
    /// Periods of the ripple per sample, in parts of 2^32: 12 Hz at 1 kHz.
    const PHASE_STEP: u32 = 51_539_608;

    fn step(&mut self) {
        self.phase = self.phase.wrapping_add(Self::PHASE_STEP);
        // Four bytes of a multiplicative generator, added: close to normal, 1.2 codes wide.
        self.random = self
            .random
            .wrapping_mul(1_664_525)
            .wrapping_add(1_013_904_223);
        let noise: i32 = self.random.to_le_bytes().into_iter().map(i32::from).sum();
        let [.., high] = self.phase.to_le_bytes();
        let triangle = (i32::from(high) - 128).abs() - 64;
        self.code = 12_000 + (noise - 510) / 128 + self.amplitude * triangle / 64;
    }
}

impl PressureSensor for Bench {
    fn read_code(&mut self) -> Result<i32, SensorError> {
        Ok(self.code)
    }
}

impl SlowSensors for Bench {
    fn read_code(&mut self, _: Quantity) -> Result<i32, SensorError> {
        Ok(self.code)
    }
}

/// Text to the first serial port.
struct Text;

impl Write for Text {
    fn write_str(&mut self, text: &str) -> core::fmt::Result {
        DATA.put_all(text.as_bytes());
        Ok(())
    }
}

fn halt() -> ! {
    loop {
        cortex_m::asm::wfi();
    }
}

#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    DATA.put_all(b"panicked\n");
    halt()
}
