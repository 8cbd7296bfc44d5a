//! Wiring of the logger on a board with an RP2040 at 125 MHz and a 12 MHz crystal.
//!
//! | pin | what |
//! | --- | --- |
//! | GP0, GP1 | serial line out and in, 115200 baud |
//! | GP4, GP5 | data and clock of the pressure converter's bus, 400 kHz |
//! | GP6, GP7 | data and clock of the slow sensors' bus, 100 kHz |
//! | GP14 | mark button to ground |
//! | GP15 | flow meter, time-stamped in the interrupt of highest priority |
//!
//! The chip has no capture unit on its microsecond timer: an edge is stamped by its interrupt, which nothing but a
//! critical section of a few dozen instructions delays (2 us, beside 7 ms between edges at the fastest
//! expected flow). Sample ticks are an alarm of the same timer, at exact times, and the pressure is read in its
//! interrupt, below the edges in priority. `tests/tests/pins.rs` holds the table above against `hardware/`.
#![no_std]
#![no_main]

use core::cell::RefCell;

use critical_section::Mutex;
use defmt_rtt as _;
use embedded_hal::digital::InputPin;
use embedded_hal_bus::i2c::RefCellDevice;
use rp2040_hal::Sio;
use rp2040_hal::clocks::{Clock, init_clocks_and_plls};
use rp2040_hal::fugit::{ExtU32, RateExtU32};
use rp2040_hal::gpio::bank0::{Gpio0, Gpio1, Gpio4, Gpio5, Gpio14, Gpio15};
use rp2040_hal::gpio::{
    FunctionI2C, FunctionSioInput, FunctionUart, InOutPin, Interrupt, Pin, Pins, PullDown, PullUp,
};
use rp2040_hal::i2c::I2C;
use rp2040_hal::pac::{self, NVIC, interrupt};
use rp2040_hal::rosc::RingOscillator;
use rp2040_hal::timer::{Alarm, Alarm0, Instant, Timer};
use rp2040_hal::uart::{DataBits, Enabled, StopBits, UartConfig, UartPeripheral};
use rp2040_hal::watchdog::Watchdog;
use tipcurve_adapters::air::AirSensor;
use tipcurve_adapters::bus_clear::clear_bus;
use tipcurve_adapters::caught::Caught;
use tipcurve_adapters::channels;
use tipcurve_adapters::coating::CoatingSensor;
use tipcurve_adapters::exchange::Exchange;
use tipcurve_adapters::pressure_adc::{MAX_RATE_HZ, PressureAdc};
use tipcurve_adapters::slow::SlowBus;
use tipcurve_adapters::supply::SupplyMonitor;
use tipcurve_firmware::{App, Config, PressureSensor};
use tipcurve_protocol::ResetReason;
use tipcurve_protocol::message::Name;

/// Starts the outside flash.
#[allow(unsafe_code, reason = "the section is where the chip looks for it")]
#[unsafe(link_section = ".boot2")]
#[used]
static BOOT2: [u8; 256] = rp2040_boot2::BOOT_LOADER_GENERIC_03H;

const CRYSTAL_HZ: u32 = 12_000_000;

/// Sample ticks at the start, 500 Hz.
const FIRST_PERIOD_TICKS: u32 = 2_000;

/// Longer than any transfer, shorter than a person's patience.
const WATCHDOG_MS: u32 = 1_000;

static EXCHANGE: Exchange = Exchange::new(FIRST_PERIOD_TICKS);

type FastBus = I2C<
    pac::I2C0,
    (
        Pin<Gpio4, FunctionI2C, PullUp>,
        Pin<Gpio5, FunctionI2C, PullUp>,
    ),
>;
type FlowPin = Pin<Gpio15, FunctionSioInput, PullUp>;
type Line = UartPeripheral<
    Enabled,
    pac::UART0,
    (
        Pin<Gpio0, FunctionUart, PullDown>,
        Pin<Gpio1, FunctionUart, PullDown>,
    ),
>;

/// What the sample interrupt owns.
struct Sampling {
    alarm: Alarm0,
    pressure: PressureAdc<FastBus>,
    button: Pin<Gpio14, FunctionSioInput, PullUp>,
    was_down: bool,
    due_ticks: u64,
}

/// What the edge interrupt owns.
struct Flow {
    pin: FlowPin,
    timer: Timer,
}

/// What the line's interrupt owns.
struct Serial {
    line: Line,
    timer: Timer,
}

static SAMPLING: Mutex<RefCell<Option<Sampling>>> = Mutex::new(RefCell::new(None));
static FLOW: Mutex<RefCell<Option<Flow>>> = Mutex::new(RefCell::new(None));
static SERIAL: Mutex<RefCell<Option<Serial>>> = Mutex::new(RefCell::new(None));

#[rp2040_hal::entry]
fn main() -> ! {
    let (Some(mut core), Some(mut chip)) =
        (cortex_m::Peripherals::take(), pac::Peripherals::take())
    else {
        halt()
    };
    let device_id = device_id();
    let reset_reason = reset_reason(&chip);
    let mut watchdog = Watchdog::new(chip.WATCHDOG);
    let Ok(clocks) = init_clocks_and_plls(
        CRYSTAL_HZ,
        chip.XOSC,
        chip.CLOCKS,
        chip.PLL_SYS,
        chip.PLL_USB,
        &mut chip.RESETS,
        &mut watchdog,
    ) else {
        halt()
    };
    let sio = Sio::new(chip.SIO);
    let bank = sio.gpio_bank0;
    let pins = Pins::new(chip.IO_BANK0, chip.PADS_BANK0, bank, &mut chip.RESETS);
    let mut timer = Timer::new(chip.TIMER, &mut chip.RESETS, &clocks);

    let mut sda = InOutPin::new(pins.gpio4);
    let mut scl = InOutPin::new(pins.gpio5);
    let _ = clear_bus(&mut scl, &mut sda, &mut timer);
    let fast = I2C::i2c0(
        chip.I2C0,
        sda.release().reconfigure(),
        scl.release().reconfigure(),
        400.kHz(),
        &mut chip.RESETS,
        &clocks.system_clock,
    );
    let mut sda = InOutPin::new(pins.gpio6);
    let mut scl = InOutPin::new(pins.gpio7);
    let _ = clear_bus(&mut scl, &mut sda, &mut timer);
    let slow = RefCell::new(I2C::i2c1(
        chip.I2C1,
        sda.release().reconfigure::<FunctionI2C, PullUp>(),
        scl.release().reconfigure::<FunctionI2C, PullUp>(),
        100.kHz(),
        &mut chip.RESETS,
        &clocks.system_clock,
    ));
    let mut slow = SlowBus {
        coating: CoatingSensor::new(RefCellDevice::new(&slow)),
        air: AirSensor::new(RefCellDevice::new(&slow), timer),
        supply: SupplyMonitor::new(RefCellDevice::new(&slow)),
    };

    let settings = UartConfig::new(115_200.Hz(), DataBits::Eight, None, StopBits::One);
    let line_pins = (pins.gpio0.into_function(), pins.gpio1.into_function());
    let line = UartPeripheral::new(chip.UART0, line_pins, &mut chip.RESETS);
    let Ok(mut line) = line.enable(settings, clocks.peripheral_clock.freq()) else {
        halt()
    };
    line.enable_rx_interrupt();
    line.enable_tx_interrupt();

    let pin: FlowPin = pins.gpio15.reconfigure();
    pin.set_interrupt_enabled(Interrupt::EdgeHigh, true);
    let Some(mut alarm) = timer.alarm_0() else {
        halt()
    };
    alarm.enable_interrupt();
    let due_ticks = timer.get_counter().ticks() + u64::from(FIRST_PERIOD_TICKS);
    let Some(app) = cortex_m::singleton!(: App = App::new(Config {
        device_id,
        boot_id: boot_id(RingOscillator::new(chip.ROSC)),
        reset_reason,
        board: Name::try_from("rp2040").unwrap_or_default(),
        max_sample_rate_hz: MAX_RATE_HZ,
        channels: channels::table(),
        ..Config::default()
    })) else {
        halt()
    };
    let mut sampling = Sampling {
        alarm,
        pressure: PressureAdc::new(fast),
        button: pins.gpio14.reconfigure(),
        was_down: false,
        due_ticks,
    };
    schedule(&mut sampling);
    critical_section::with(|section| {
        SAMPLING.borrow_ref_mut(section).replace(sampling);
        FLOW.borrow_ref_mut(section).replace(Flow { pin, timer });
        SERIAL
            .borrow_ref_mut(section)
            .replace(Serial { line, timer });
    });
    #[expect(unsafe_code, reason = "the handlers below own what they use")]
    // SAFETY: outside of any critical section, and none relies on priorities. Edges come first, then the line.
    unsafe {
        core.NVIC.set_priority(pac::Interrupt::IO_IRQ_BANK0, 0x00);
        core.NVIC.set_priority(pac::Interrupt::UART0_IRQ, 0x40);
        core.NVIC.set_priority(pac::Interrupt::TIMER_IRQ_0, 0x80);
        NVIC::unmask(pac::Interrupt::IO_IRQ_BANK0);
        NVIC::unmask(pac::Interrupt::UART0_IRQ);
        NVIC::unmask(pac::Interrupt::TIMER_IRQ_0);
    }
    watchdog.start(WATCHDOG_MS.millis());
    defmt::info!("device {=u64:x}", device_id);
    loop {
        let now = timer.get_counter().ticks();
        if EXCHANGE.step(app, &mut slow, now) {
            NVIC::pend(pac::Interrupt::UART0_IRQ);
        }
        if app.is_alive(now) {
            watchdog.feed();
        }
        cortex_m::asm::wfi();
    }
}

/// Sets the alarm for the next sample. One that has passed already fires at once.
fn schedule(sampling: &mut Sampling) {
    let at = Instant::from_ticks(sampling.due_ticks);
    if sampling.alarm.schedule_at(at).is_err() {
        NVIC::pend(pac::Interrupt::TIMER_IRQ_0);
    }
}

#[interrupt]
fn TIMER_IRQ_0() {
    static mut OWN: Option<Sampling> = None;
    if OWN.is_none() {
        *OWN = critical_section::with(|section| SAMPLING.borrow_ref_mut(section).take());
    }
    if let Some(sampling) = OWN {
        on_alarm(sampling);
    }
}

fn on_alarm(sampling: &mut Sampling) {
    sampling.alarm.clear_interrupt();
    let ticks = sampling.due_ticks;
    sampling.due_ticks = ticks + u64::from(EXCHANGE.period_ticks());
    EXCHANGE.put(Caught::Sample(ticks, sampling.pressure.read_code()));
    let is_down = sampling.button.is_low().unwrap_or(false);
    if is_down && !sampling.was_down {
        EXCHANGE.put(Caught::Button(ticks));
    }
    sampling.was_down = is_down;
    schedule(sampling);
}

#[interrupt]
fn IO_IRQ_BANK0() {
    static mut OWN: Option<Flow> = None;
    if OWN.is_none() {
        *OWN = critical_section::with(|section| FLOW.borrow_ref_mut(section).take());
    }
    if let Some(flow) = OWN {
        let ticks = flow.timer.get_counter().ticks();
        if flow.pin.interrupt_status(Interrupt::EdgeHigh) {
            flow.pin.clear_interrupt(Interrupt::EdgeHigh);
            EXCHANGE.put(Caught::Edge(ticks));
        }
    }
}

#[interrupt]
fn UART0_IRQ() {
    static mut OWN: Option<Serial> = None;
    if OWN.is_none() {
        *OWN = critical_section::with(|section| SERIAL.borrow_ref_mut(section).take());
    }
    if let Some(serial) = OWN {
        on_line(serial);
    }
}

fn on_line(serial: &mut Serial) {
    let ticks = serial.timer.get_counter().ticks();
    let mut bytes = [0; 32];
    if let Ok(count) = serial.line.read_raw(&mut bytes) {
        for byte in bytes.iter().take(count) {
            EXCHANGE.put(Caught::Byte(ticks, *byte));
        }
    }
    while serial.line.uart_is_writable() {
        let Some(byte) = EXCHANGE.next_out() else {
            break;
        };
        let _ = serial.line.write_raw(&[byte]);
    }
}

fn reset_reason(chip: &pac::Peripherals) -> ResetReason {
    let watchdog = chip.WATCHDOG.reason().read();
    let flags = chip.VREG_AND_CHIP_RESET.chip_reset().read();
    if watchdog.timer().bit() {
        ResetReason::Watchdog
    } else if watchdog.force().bit() {
        ResetReason::Software
    } else if flags.had_run().bit() {
        ResetReason::Pin
    } else if flags.had_por().bit() {
        // The chip does not tell a brown-out from power coming on.
        ResetReason::PowerOn
    } else {
        ResetReason::NotKnown
    }
}

/// The number of the outside flash.
fn device_id() -> u64 {
    let mut id = [0; 8];
    #[expect(unsafe_code, reason = "the flash is out of reach while it is asked")]
    // SAFETY: the function runs from RAM; no interrupt is on yet, and the second core sleeps.
    unsafe {
        rp2040_flash::flash::flash_unique_id(&mut id, true);
    }
    u64::from_be_bytes(id)
}

/// 32 bits of the ring oscillator's jitter.
fn boot_id(oscillator: RingOscillator<rp2040_hal::rosc::Disabled>) -> u32 {
    let oscillator = oscillator.initialize();
    (0..32).fold(0, |bits, _| {
        bits << 1 | u32::from(oscillator.get_random_bit())
    })
}

fn halt() -> ! {
    loop {
        cortex_m::asm::wfi();
    }
}

/// A panic waits for the watchdog; the host then reads the reason of the reset.
#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    halt()
}
