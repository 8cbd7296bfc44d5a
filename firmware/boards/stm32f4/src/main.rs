//! Wiring of the logger on a board with an STM32F401 at 84 MHz and a 25 MHz crystal.
//!
//! | pin | what |
//! | --- | --- |
//! | PA0 | flow meter, captured by timer 5 channel 1 |
//! | PA2, PA3 | serial line out and in, 115200 baud |
//! | PB0 | mark button to ground |
//! | PB8, PB9 | clock and data of the pressure converter's bus, 400 kHz |
//! | PB10, PB3 | clock and data of the slow sensors' bus, 100 kHz |
//!
//! Timer 5 runs at 1 MHz for ever. Its channel 2 is the sample tick, so that samples and edges have one clock. The
//! pressure is read inside that interrupt (0.13 ms), below the line's in priority; an edge that comes meanwhile waits in the capture
//! register, and a second one is counted as over-capture. `tests/tests/pins.rs` holds the table above
//! against `hardware/`.
#![no_std]
#![no_main]

use core::cell::RefCell;
use core::mem::MaybeUninit;

use cortex_m_rt::entry;
use critical_section::Mutex;
use defmt_rtt as _;
use embedded_hal_bus::i2c::RefCellDevice;
use stm32f4xx_hal::i2c::I2c;
use stm32f4xx_hal::pac::{self, NVIC, TIM5, USART2, interrupt};
use stm32f4xx_hal::prelude::*;
use stm32f4xx_hal::rcc::{Config as Clocks, Enable};
use stm32f4xx_hal::serial::{Config as Line, Serial};
use stm32f4xx_hal::watchdog::IndependentWatchdog;
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
use tipcurve_protocol::ticks::TickExtender;

/// Sample ticks at the start, 500 Hz.
const FIRST_PERIOD_TICKS: u32 = 2_000;

/// Longer than any transfer, shorter than a person's patience.
const WATCHDOG_MS: u32 = 1_000;

static EXCHANGE: Exchange = Exchange::new(FIRST_PERIOD_TICKS);

/// Widens the timer's 32 bits. Sample ticks come often enough for it.
static CLOCK: Mutex<RefCell<TickExtender>> = Mutex::new(RefCell::new(TickExtender::new()));

/// What the sample interrupt owns.
struct Sampling {
    timer: TIM5,
    pressure: PressureAdc<I2c<pac::I2C1>>,
    button: stm32f4xx_hal::gpio::Pin<'B', 0>,
    was_down: bool,
}

static SAMPLING: Mutex<RefCell<Option<Sampling>>> = Mutex::new(RefCell::new(None));
static LINE: Mutex<RefCell<Option<Serial<USART2>>>> = Mutex::new(RefCell::new(None));

#[entry]
fn main() -> ! {
    let (Some(mut core), Some(chip)) = (cortex_m::Peripherals::take(), pac::Peripherals::take())
    else {
        halt()
    };
    let reset_reason = reset_reason(&chip.RCC);
    let clocks = Clocks::hse(25.MHz()).sysclk(84.MHz());
    let mut rcc = chip.RCC.freeze(clocks);
    let mut delay = core.SYST.delay(&rcc.clocks);
    let (a, b) = (chip.GPIOA.split(&mut rcc), chip.GPIOB.split(&mut rcc));

    let mut scl = b.pb8.into_open_drain_output();
    let mut sda = b.pb9.into_open_drain_output();
    let Ok(_) = clear_bus(&mut scl, &mut sda, &mut delay);
    let fast = I2c::new(chip.I2C1, (scl, sda), 400.kHz(), &mut rcc);
    let mut scl = b.pb10.into_open_drain_output();
    let mut sda = b.pb3.into_open_drain_output();
    let Ok(_) = clear_bus(&mut scl, &mut sda, &mut delay);
    let slow = RefCell::new(I2c::new(chip.I2C2, (scl, sda), 100.kHz(), &mut rcc));
    let mut slow = SlowBus {
        coating: CoatingSensor::new(RefCellDevice::new(&slow)),
        air: AirSensor::new(RefCellDevice::new(&slow), delay),
        supply: SupplyMonitor::new(RefCellDevice::new(&slow)),
    };

    let line = Line::default().baudrate(115_200.bps());
    let Ok(mut line) = Serial::new(chip.USART2, (a.pa2, a.pa3), line, &mut rcc) else {
        halt()
    };
    line.listen(stm32f4xx_hal::serial::Event::RxNotEmpty);
    let _flow = a.pa0.into_alternate::<2>();
    pac::TIM5::enable(&mut rcc);
    start_timer(&chip.TIM5, rcc.clocks.timclk1().raw());

    let Some(app) = cortex_m::singleton!(: App = App::new(Config {
        device_id: device_id(),
        boot_id: boot_id(),
        reset_reason,
        board: Name::try_from("stm32f4").unwrap_or_default(),
        max_sample_rate_hz: MAX_RATE_HZ,
        channels: channels::table(),
        ..Config::default()
    })) else {
        halt()
    };
    critical_section::with(|section| {
        SAMPLING.borrow_ref_mut(section).replace(Sampling {
            timer: chip.TIM5,
            pressure: PressureAdc::new(fast),
            button: b.pb0.into_pull_up_input(),
            was_down: false,
        });
        LINE.borrow_ref_mut(section).replace(line);
    });
    #[expect(unsafe_code, reason = "the handlers below own what they use")]
    // SAFETY: outside of any critical section, and none relies on priorities. A byte of the line must not wait
    // for the reading of the pressure.
    unsafe {
        core.NVIC.set_priority(pac::Interrupt::TIM5, 0x20);
        core.NVIC.set_priority(pac::Interrupt::USART2, 0x10);
        NVIC::unmask(pac::Interrupt::TIM5);
        NVIC::unmask(pac::Interrupt::USART2);
    }
    let mut watchdog = IndependentWatchdog::new(chip.IWDG);
    watchdog.start(WATCHDOG_MS.millis());
    defmt::info!("device {=u64:x}", device_id());
    loop {
        let now = now_ticks();
        if EXCHANGE.step(app, &mut slow, now) {
            NVIC::pend(pac::Interrupt::USART2);
        }
        if app.is_alive(now) {
            watchdog.feed();
        }
        cortex_m::asm::wfi();
    }
}

/// A free 1 MHz counter, captures of channel 1 and a tick of channel 2.
fn start_timer(timer: &TIM5, clock_hz: u32) {
    let divider = u16::try_from(clock_hz / 1_000_000 - 1).unwrap_or(u16::MAX);
    timer.psc().write(|w| w.psc().set(divider));
    timer.arr().write(|w| w.set(u32::MAX));
    timer.egr().write(|w| w.ug().set_bit());
    // Four equal readings of the input, then rising edges.
    timer
        .ccmr1_input()
        .write(|w| w.cc1s().ti1().ic1f().set(0b0010));
    timer.ccer().write(|w| w.cc1e().set_bit());
    timer.ccr2().write(|w| w.set(FIRST_PERIOD_TICKS));
    timer.sr().reset();
    timer
        .dier()
        .write(|w| w.cc1ie().set_bit().cc2ie().set_bit());
    timer.cr1().write(|w| w.cen().set_bit());
}

fn now_ticks() -> u64 {
    #[expect(unsafe_code, reason = "the sample interrupt owns the timer")]
    // SAFETY: reads one register, which reading does not change.
    let counter = unsafe { (*TIM5::ptr()).cnt().read().bits() };
    extend(counter)
}

/// Device time of a counter reading of the last half hour.
fn extend(counter: u32) -> u64 {
    critical_section::with(|section| CLOCK.borrow_ref_mut(section).extend(counter))
}

#[interrupt]
fn TIM5() {
    static mut OWN: Option<Sampling> = None;
    if OWN.is_none() {
        *OWN = critical_section::with(|section| SAMPLING.borrow_ref_mut(section).take());
    }
    if let Some(sampling) = OWN {
        on_timer(sampling);
    }
}

fn on_timer(sampling: &mut Sampling) {
    let timer = &sampling.timer;
    let flags = timer.sr().read();
    if flags.cc1of().bit() {
        timer.sr().modify(|_, w| w.cc1of().clear_bit());
        EXCHANGE.count_over_capture();
    }
    if flags.cc1if().bit() {
        // Reading the register clears the flag.
        EXCHANGE.put(Caught::Edge(extend(timer.ccr1().read().bits())));
    }
    if flags.cc2if().bit() {
        timer.sr().modify(|_, w| w.cc2if().clear_bit());
        let due = timer.ccr2().read().bits();
        let next = due.wrapping_add(EXCHANGE.period_ticks());
        timer.ccr2().write(|w| w.set(next));
        let ticks = extend(due);
        EXCHANGE.put(Caught::Sample(ticks, sampling.pressure.read_code()));
        let is_down = sampling.button.is_low();
        if is_down && !sampling.was_down {
            EXCHANGE.put(Caught::Button(ticks));
        }
        sampling.was_down = is_down;
    }
}

#[interrupt]
fn USART2() {
    let now = now_ticks();
    critical_section::with(|section| {
        if let Some(line) = LINE.borrow_ref_mut(section).as_mut() {
            on_line(line, now);
        }
    });
}

fn on_line(line: &mut Serial<USART2>, now: u64) {
    use embedded_hal_nb::serial::{Read, Write};
    if let Ok(byte) = line.read() {
        EXCHANGE.put(Caught::Byte(now, byte));
    }
    if !line.is_tx_empty() {
        return;
    }
    match EXCHANGE.next_out() {
        Some(byte) => {
            let _ = line.write(byte);
            line.listen(stm32f4xx_hal::serial::Event::TxEmpty);
        }
        None => line.unlisten(stm32f4xx_hal::serial::Event::TxEmpty),
    }
}

fn reset_reason(rcc: &pac::RCC) -> ResetReason {
    let flags = rcc.csr().read();
    let reason = if flags.wdgrstf().bit() || flags.wwdgrstf().bit() {
        ResetReason::Watchdog
    } else if flags.sftrstf().bit() {
        ResetReason::Software
    } else if flags.porrstf().bit() {
        ResetReason::PowerOn
    } else if flags.borrstf().bit() {
        ResetReason::BrownOut
    } else {
        ResetReason::Pin
    };
    rcc.csr().modify(|_, w| w.rmvf().set_bit());
    reason
}

/// The chip's number of 96 bits, folded.
fn device_id() -> u64 {
    let uid = stm32f4xx_hal::signature::Uid::get();
    let lot = uid
        .lot_num()
        .bytes()
        .fold(0, |lot: u64, byte| lot.rotate_left(8) ^ u64::from(byte));
    lot << 8 ^ u64::from(uid.x()) << 48 ^ u64::from(uid.y()) << 32 ^ u64::from(uid.waf_num())
}

/// Memory that keeps what it had: chance after power-on, the last value after a reset.
#[allow(unsafe_code, reason = "the section keeps the start-up code off it")]
#[unsafe(link_section = ".uninit.BOOT")]
static mut BOOT: MaybeUninit<[u32; 64]> = MaybeUninit::uninit();

/// A number that differs from start to start: memory after power-on differs in some bits each time, and
/// each start changes it.
#[expect(unsafe_code, reason = "reads memory that nobody wrote")]
fn boot_id() -> u32 {
    let words = (&raw mut BOOT).cast::<u32>();
    let mut hash: u32 = 0x811c_9dc5;
    for index in 0..64 {
        // SAFETY: inside the array; volatile, so that any content is read as it is. Only called once.
        let word = unsafe { words.add(index).read_volatile() };
        hash = (hash ^ word).wrapping_mul(0x0100_0193);
    }
    // SAFETY: as above.
    unsafe { words.write_volatile(hash) };
    hash
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
