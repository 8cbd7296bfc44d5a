//! The registers that the emulated machine has: three serial ports, the clock tick, a free counter.
//!
//! The machine models no clock tree, so nothing here waits for an oscillator: the core runs at
//! 168 MHz from the start. The serial ports accept bytes only once they are switched on, and a byte
//! that is not read holds up those behind it.
#![allow(dead_code, reason = "each of the two programs uses a part")]

use core::sync::atomic::{AtomicU32, Ordering};

use cortex_m::Peripherals;
use cortex_m::interrupt::InterruptNumber;
use cortex_m::peripheral::NVIC;
use cortex_m::peripheral::syst::SystClkSource;
use cortex_m_rt::exception;

/// Core clock, Hz.
const CORE_HZ: u32 = 168_000_000;

/// Interrupt of the feed's port; all others stay off.
#[derive(Clone, Copy)]
struct FeedInterrupt;

#[expect(unsafe_code, reason = "the number of an interrupt")]
// SAFETY: USART2 has this number on this machine, and it never changes.
unsafe impl InterruptNumber for FeedInterrupt {
    fn number(self) -> u16 {
        38
    }
}

/// A byte of the feed ended a sleep; the interrupt stays off until the next.
#[exception]
#[allow(unsafe_code, reason = "the signature asks for it")]
unsafe fn DefaultHandler(_: i16) {
    NVIC::mask(FeedInterrupt);
}

static TICKS: AtomicU32 = AtomicU32::new(0);

#[exception]
fn SysTick() {
    let ticks = TICKS.load(Ordering::Relaxed);
    TICKS.store(ticks.wrapping_add(1), Ordering::Relaxed);
}

/// USART1: the logger's line.
pub(crate) const DATA: Port = Port { base: 0x4001_1000 };

/// USART2: the feed.
pub(crate) const FEED: Port = Port { base: 0x4000_4400 };

/// USART3: diagnostics.
pub(crate) const DIAGNOSTICS: Port = Port { base: 0x4000_4800 };

/// A serial port.
pub(crate) struct Port {
    base: usize,
}

impl Port {
    const STATUS: usize = 0x00;
    const DATA: usize = 0x04;
    const CONTROL: usize = 0x0c;

    /// Port on, transmitter on, receiver on.
    fn enable(&self) {
        // Bit 5: an interrupt for each byte, which the processor ignores unless it sleeps.
        write(
            self.base + Self::CONTROL,
            1 << 13 | 1 << 5 | 1 << 3 | 1 << 2,
        );
    }

    /// The byte that has come in, if any.
    pub(crate) fn take(&self) -> Option<u8> {
        const RECEIVED: u32 = 1 << 5;
        let has_byte = read(self.base + Self::STATUS) & RECEIVED != 0;
        has_byte.then(|| {
            let [byte, ..] = read(self.base + Self::DATA).to_le_bytes();
            byte
        })
    }

    /// Sends a byte; the emulated port takes it at once.
    pub(crate) fn put(&self, byte: u8) {
        write(self.base + Self::DATA, byte.into());
    }

    /// Sends bytes.
    pub(crate) fn put_all(&self, bytes: &[u8]) {
        bytes.iter().for_each(|byte| self.put(*byte));
    }
}

/// What was started.
pub(crate) struct Machine {
    seen_ticks: u32,
}

impl Machine {
    /// The ports and the clock tick. `None` if called twice.
    pub(crate) fn start() -> Option<Self> {
        let mut core = Peripherals::take()?;
        Self::enable_ports();
        core.SYST.set_clock_source(SystClkSource::Core);
        core.SYST.set_reload(CORE_HZ / 1_000 - 1);
        core.SYST.clear_current();
        core.SYST.enable_counter();
        core.SYST.enable_interrupt();
        Some(Self { seen_ticks: 0 })
    }

    /// The ports only: no interrupt comes between the instructions that are counted.
    pub(crate) fn enable_ports() {
        DATA.enable();
        FEED.enable();
        DIAGNOSTICS.enable();
    }

    /// Sleeps until the next byte of the feed or tick of the clock.
    pub(crate) fn wait_for_feed() {
        cortex_m::interrupt::free(|_| {
            #[expect(unsafe_code, reason = "unmasking may break a critical section")]
            // SAFETY: the handler touches nothing but this mask.
            unsafe {
                NVIC::unmask(FeedInterrupt);
            }
            cortex_m::asm::wfi();
        });
    }

    /// Whether the clock ticked since this or [`wait_for_tick`](Self::wait_for_tick) was last called.
    pub(crate) fn has_ticked(&mut self) -> bool {
        let ticks = TICKS.load(Ordering::Relaxed);
        core::mem::replace(&mut self.seen_ticks, ticks) != ticks
    }

    /// Sleeps until the next tick of the clock, or not at all if one has passed meanwhile.
    pub(crate) fn wait_for_tick(&mut self) {
        while TICKS.load(Ordering::Relaxed) == self.seen_ticks {
            // A tick between the question and the sleep would be slept through: held off, it ends the sleep.
            cortex_m::interrupt::free(|_| {
                if TICKS.load(Ordering::Relaxed) == self.seen_ticks {
                    cortex_m::asm::wfi();
                }
            });
        }
        self.seen_ticks = TICKS.load(Ordering::Relaxed);
    }
}

/// A counter of nanoseconds of the machine's time (timer 2). With `-icount shift=0` each instruction takes
/// one nanosecond, so that it counts instructions.
pub(crate) struct Counter;

impl Counter {
    const BASE: usize = 0x4000_0000;

    /// Lets it run.
    pub(crate) fn start() -> Self {
        const AUTO_RELOAD: usize = 0x2c;
        write(Self::BASE + AUTO_RELOAD, u32::MAX);
        write(Self::BASE, 1);
        Self
    }

    /// Its value.
    pub(crate) fn read(&self) -> u32 {
        const COUNT: usize = 0x24;
        read(Self::BASE + COUNT)
    }
}

#[expect(unsafe_code, reason = "a register of the machine")]
fn read(address: usize) -> u32 {
    // SAFETY: only called with the registers above, which are always there and aligned.
    unsafe { core::ptr::with_exposed_provenance::<u32>(address).read_volatile() }
}

#[expect(unsafe_code, reason = "a register of the machine")]
fn write(address: usize, value: u32) {
    // SAFETY: only called with the registers above; none of them moves memory.
    unsafe { core::ptr::with_exposed_provenance_mut::<u32>(address).write_volatile(value) }
}
