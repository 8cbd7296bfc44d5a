//! Between interrupts and the main loop: what was caught on the way in, bytes on the way out.
//!
//! Everything is moved in critical sections of a few dozen instructions; no transfer on a bus happens inside
//! one. What finds no place is counted: an edge as over-capture, a sample by the core, which misses it.

use core::cell::RefCell;
use core::convert::Infallible;

use critical_section::Mutex;
use embedded_io::{ErrorType, Write, WriteReady};
use heapless::Deque;
use tipcurve_firmware::{App, SlowSensors};

use crate::caught::Caught;

/// Things caught that may wait: a slow sensor holds the main loop for 5 ms, in which 1 kHz of samples, 2 kHz of
/// edges and 11 bytes come to 26.
const CAUGHT: usize = 64;

/// Bytes on the way out: 22 ms of the line.
const OUT_BYTES: usize = 256;

struct Inner {
    caught: Deque<Caught, CAUGHT>,
    over_captures: u32,
    out: Deque<u8, OUT_BYTES>,
    period_ticks: u32,
}

/// Shared by the interrupts and the main loop of a board.
pub struct Exchange {
    inner: Mutex<RefCell<Inner>>,
}

impl Exchange {
    /// Empty, with the period of the first sample ticks.
    #[must_use]
    pub const fn new(period_ticks: u32) -> Self {
        Self {
            inner: Mutex::new(RefCell::new(Inner {
                caught: Deque::new(),
                over_captures: 0,
                out: Deque::new(),
                period_ticks,
            })),
        }
    }

    fn with<T>(&self, act: impl FnOnce(&mut Inner) -> T) -> T {
        critical_section::with(|section| act(&mut self.inner.borrow_ref_mut(section)))
    }

    /// From an interrupt: something happened.
    pub fn put(&self, caught: Caught) {
        self.with(|inner| {
            let is_full = inner.caught.push_back(caught).is_err();
            if is_full && matches!(caught, Caught::Edge(_)) {
                inner.over_captures = inner.over_captures.saturating_add(1);
            }
        });
    }

    /// From an interrupt: the hardware overwrote an edge before it was read.
    pub fn count_over_capture(&self) {
        self.with(|inner| inner.over_captures = inner.over_captures.saturating_add(1));
    }

    /// From an interrupt: the next byte for the line.
    pub fn next_out(&self) -> Option<u8> {
        self.with(|inner| inner.out.pop_front())
    }

    /// From an interrupt: ticks to the next sample.
    pub fn period_ticks(&self) -> u32 {
        self.with(|inner| inner.period_ticks)
    }

    /// From the main loop: everything once. Returns whether bytes wait for the line, so that the board
    /// wakes its transmitter.
    pub fn step<S: SlowSensors>(&self, app: &mut App, slow: &mut S, now_ticks: u64) -> bool {
        while let Some(caught) = self.with(|inner| inner.caught.pop_front()) {
            caught.hand_to(app);
        }
        match self.with(|inner| core::mem::take(&mut inner.over_captures)) {
            0 => {}
            count => app.on_over_capture(count),
        }
        app.poll(now_ticks, slow);
        let Ok(_) = app.poll_send(now_ticks, &mut Out(self));
        let period_ticks = app.period_ticks();
        self.with(|inner| {
            inner.period_ticks = period_ticks;
            !inner.out.is_empty()
        })
    }
}

/// The way out, as a writer that never waits.
struct Out<'a>(&'a Exchange);

impl ErrorType for Out<'_> {
    type Error = Infallible;
}

impl Write for Out<'_> {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, Infallible> {
        Ok(self.0.with(|inner| {
            let placed = bytes
                .iter()
                .take_while(|byte| inner.out.push_back(**byte).is_ok());
            placed.count()
        }))
    }

    fn flush(&mut self) -> Result<(), Infallible> {
        Ok(())
    }
}

impl WriteReady for Out<'_> {
    fn write_ready(&mut self) -> Result<bool, Infallible> {
        Ok(self.0.with(|inner| !inner.out.is_full()))
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use std::vec::Vec;

    use tipcurve_firmware::{Config, SensorError};
    use tipcurve_protocol::{Event, Message, Quantity, Reader};

    use super::*;

    struct Nothing;

    impl SlowSensors for Nothing {
        fn read_code(&mut self, _: Quantity) -> Result<i32, SensorError> {
            Err(SensorError::Absent)
        }
    }

    /// Takes what the line would carry, after each of `n` turns of the main loop.
    fn run(exchange: &Exchange, app: &mut App, from_ms: u64, n: u64) -> Vec<u8> {
        let mut sent = Vec::new();
        for ms in from_ms..from_ms + n {
            exchange.step(app, &mut Nothing, ms * 1_000);
            sent.extend(core::iter::from_fn(|| exchange.next_out()).take(11));
        }
        sent
    }

    #[test]
    fn what_was_caught_reaches_the_line() {
        let exchange = Exchange::new(2_000);
        let mut app = App::new(Config::default());
        for i in 0..20 {
            exchange.put(Caught::Sample(i * 2_000, Ok(7)));
            exchange.put(Caught::Edge(i * 2_000 + 99));
        }
        exchange.step(&mut app, &mut Nothing, 40_000);
        app.flush();
        let sent = run(&exchange, &mut app, 40, 60);
        let (mut samples, mut edges) = (0, 0);
        let mut reader: Reader = Reader::new();
        let mut input = sent.as_slice();
        while let Some(event) = reader.next(&mut input) {
            match event {
                Event::Message(Message::Samples(block)) => samples += block.block.len(),
                Event::Message(Message::Edges(block)) => edges += block.len(),
                _ => {}
            }
        }
        assert_eq!((samples, edges), (20, 20));
    }

    #[test]
    fn edges_without_a_place_are_counted_as_over_captures() {
        let exchange = Exchange::new(2_000);
        let mut app = App::new(Config::default());
        for i in 0..100 {
            exchange.put(Caught::Edge(i * 1_000));
        }
        exchange.count_over_capture();
        exchange.step(&mut app, &mut Nothing, 100_000);
        let sent = run(&exchange, &mut app, 1_000, 100);
        let mut reader: Reader = Reader::new();
        let mut input = sent.as_slice();
        let mut over_captures = 0;
        while let Some(event) = reader.next(&mut input) {
            if let Event::Message(Message::Health(health)) = event {
                over_captures = health.over_captures;
            }
        }
        assert_eq!(over_captures, 37);
    }
}
