//! Records to calls of the core, in the order of their device times.
//!
//! Device time may go on by what the clock allows, but never past what the feed has told: while the
//! feed is behind, time stands still. So a slow host makes the board slow, and never wrong.

use tipcurve_firmware::{App, PressureSensor, SensorError, SlowSensors};
use tipcurve_protocol::Quantity;

use crate::feed::{BadLine, Change, Lines, Reading, Record, Run};

/// Quantities of the wire, number 0 unused.
const N_QUANTITIES: usize = 8;

/// How far the replay came.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Progress {
    /// To the time that was asked for.
    Reached,
    /// The feed is behind.
    Waiting,
    /// The feed is over.
    Ended,
}

/// The sensors as the feed last said, and the device time.
#[derive(Debug)]
pub struct Replay {
    lines: Lines,
    ahead: Option<Record>,
    now_ticks: u64,
    next_sample_ticks: u64,
    run_ticks: u32,
    sensors: Sensors,
}

impl Default for Replay {
    fn default() -> Self {
        Self::new()
    }
}

impl Replay {
    /// At device time 0, with no sensor fitted.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            lines: Lines::new(),
            ahead: None,
            now_ticks: 0,
            next_sample_ticks: 0,
            run_ticks: 1_000,
            sensors: Sensors {
                pressure: Err(SensorError::Absent),
                slow: [Err(SensorError::Absent); N_QUANTITIES],
            },
        }
    }

    /// Device time.
    #[must_use]
    pub const fn now_ticks(&self) -> u64 {
        self.now_ticks
    }

    /// The sensors, for the core's poll.
    pub const fn sensors(&mut self) -> &mut Sensors {
        &mut self.sensors
    }

    /// The number of this start, once the first line has come.
    ///
    /// # Errors
    /// [`BadLine`] if the first line is not `boot ID`.
    pub fn read_boot_id(
        &mut self,
        bytes: &mut impl FnMut() -> Option<u8>,
    ) -> Result<Option<u32>, BadLine> {
        match self.peek(bytes)? {
            None => Ok(None),
            Some(Record::Boot(id)) => {
                self.ahead = None;
                Ok(Some(id))
            }
            Some(_) => Err(self.bad_line()),
        }
    }

    /// Goes on to `until_ticks`, or as far as the feed allows.
    ///
    /// What happens at a time comes before the sample of that time. An edge is handed over with its
    /// own time, however late its line was read.
    ///
    /// # Errors
    /// [`BadLine`] for a line that is no record, goes back in time, or says `boot` again. The replay
    /// stops there.
    pub fn advance(
        &mut self,
        app: &mut App,
        until_ticks: u64,
        bytes: &mut impl FnMut() -> Option<u8>,
    ) -> Result<Progress, BadLine> {
        loop {
            match self.peek(bytes)? {
                None => return Ok(Progress::Waiting),
                Some(Record::End) => return Ok(Progress::Ended),
                Some(Record::Boot(_)) => return Err(self.bad_line()),
                Some(Record::Every(ticks)) => {
                    self.run_ticks = ticks;
                    self.ahead = None;
                }
                Some(Record::At { device_ticks, .. }) if device_ticks > until_ticks => {
                    self.sample_before(app, until_ticks.saturating_add(1));
                    self.now_ticks = until_ticks;
                    return Ok(Progress::Reached);
                }
                Some(Record::At {
                    device_ticks,
                    change,
                }) => {
                    if device_ticks < self.now_ticks {
                        return Err(self.bad_line());
                    }
                    self.ahead = None;
                    self.sample_before(app, device_ticks);
                    self.now_ticks = device_ticks;
                    self.apply(app, device_ticks, change);
                }
            }
        }
    }

    fn peek(&mut self, bytes: &mut impl FnMut() -> Option<u8>) -> Result<Option<Record>, BadLine> {
        while self.ahead.is_none() {
            let Some(byte) = bytes() else { break };
            self.ahead = self.lines.push(byte)?;
        }
        Ok(self.ahead)
    }

    const fn bad_line(&self) -> BadLine {
        BadLine {
            line: self.lines.count(),
        }
    }

    /// Takes the samples that are due before a time.
    fn sample_before(&mut self, app: &mut App, device_ticks: u64) {
        while self.next_sample_ticks < device_ticks {
            app.on_sample_tick(self.next_sample_ticks, &mut self.sensors);
            self.next_sample_ticks += u64::from(app.period_ticks());
        }
    }

    /// Takes the first code of a run; the rest is ahead, one distance later.
    fn apply_run(&mut self, device_ticks: u64, mut run: Run) {
        let Some(change) = run.take_first() else {
            return;
        };
        let code = self.sensors.pressure.unwrap_or_default();
        self.sensors.pressure = Ok(code.saturating_add(change));
        if !run.is_empty() {
            self.ahead = Some(Record::At {
                device_ticks: device_ticks.saturating_add(self.run_ticks.into()),
                change: Change::Run(run),
            });
        }
    }

    fn apply(&mut self, app: &mut App, device_ticks: u64, change: Change) {
        match change {
            Change::Pressure(reading) => self.sensors.pressure = reading,
            Change::Slow(quantity, reading) => self.sensors.set_slow(quantity, reading),
            Change::Edge => app.on_edge(device_ticks),
            Change::Button => app.on_button(device_ticks),
            Change::Run(run) => self.apply_run(device_ticks, run),
            Change::Nothing => {}
        }
    }
}

/// What each sensor gives at present.
#[derive(Debug)]
pub struct Sensors {
    pressure: Reading,
    slow: [Reading; N_QUANTITIES],
}

impl Sensors {
    fn set_slow(&mut self, quantity: Quantity, reading: Reading) {
        let index = usize::from(u8::from(quantity));
        if let Some(place) = self.slow.get_mut(index) {
            *place = reading;
        }
    }
}

impl PressureSensor for Sensors {
    fn read_code(&mut self) -> Reading {
        self.pressure
    }
}

impl SlowSensors for Sensors {
    fn read_code(&mut self, quantity: Quantity) -> Reading {
        let index = usize::from(u8::from(quantity));
        let reading = self.slow.get(index).copied();
        reading.unwrap_or(Err(SensorError::Absent))
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use std::vec::Vec;

    use tipcurve_firmware::Config;
    use tipcurve_protocol::{Event, Message, Reader};

    use super::*;

    fn app() -> App {
        App::new(Config::default())
    }

    fn run(text: &str, until_ticks: u64) -> (Result<Progress, BadLine>, Replay, App) {
        let (mut replay, mut app) = (Replay::new(), app());
        let mut bytes = text.bytes();
        let end = replay.advance(&mut app, until_ticks, &mut || bytes.next());
        (end, replay, app)
    }

    /// Codes of all samples and ticks of all edges that the app has to send.
    fn sent(app: &mut App, now_ticks: u64) -> (Vec<i32>, Vec<u64>) {
        app.flush();
        let (mut codes, mut edges) = (Vec::new(), Vec::new());
        let mut reader: Reader = Reader::new();
        loop {
            let bytes = app.next_bytes(now_ticks).to_vec();
            if bytes.is_empty() {
                return (codes, edges);
            }
            app.sent(bytes.len());
            let mut input = bytes.as_slice();
            while let Some(event) = reader.next(&mut input) {
                match event {
                    Event::Message(Message::Samples(samples)) => {
                        let at = codes.len();
                        codes.resize(at + samples.block.len(), 0);
                        samples.block.decode(&mut codes[at..]).unwrap();
                    }
                    Event::Message(Message::Edges(block)) => {
                        let at = edges.len();
                        edges.resize(at + block.len(), 0);
                        block.decode(&mut edges[at..]).unwrap();
                    }
                    _ => {}
                }
            }
        }
    }

    #[test]
    fn a_code_holds_until_the_next_and_counts_for_the_sample_of_its_own_time() {
        let feed = "0 p 10\n3000 p 20\n4000 p 30\n4001 p 40\n9000 .\n";
        let (end, replay, mut app) = run(feed, 8_000);
        assert_eq!(end, Ok(Progress::Reached));
        assert_eq!(replay.now_ticks(), 8_000);
        // Every 2000 ticks at the default rate: 0, 2000, 4000, 6000, 8000.
        assert_eq!(sent(&mut app, 8_000).0, [10, 10, 30, 40, 40]);
    }

    #[test]
    fn a_run_gives_a_code_every_so_often() {
        let feed = "every 2000\n0 p 100\n2000 q bBzZ\n+6000 e\n+8000 .\n";
        let (_, _, mut app) = run(feed, 8_000);
        assert_eq!(sent(&mut app, 8_000).0, [100, 101, 99, 124, 98]);
    }

    #[test]
    fn edges_keep_their_own_time() {
        let (_, _, mut app) = run("0 p 1\n1234 e\n7777 e\n20000 .\n", 10_000);
        assert_eq!(sent(&mut app, 10_000).1, [1_234, 7_777]);
    }

    #[test]
    fn time_stands_still_while_the_feed_is_behind() {
        let (end, replay, mut app) = run("0 p 5\n3000 p 6\n", 100_000);
        assert_eq!(end, Ok(Progress::Waiting));
        assert_eq!(replay.now_ticks(), 3_000);
        assert_eq!(sent(&mut app, 3_000).0, [5, 5]);
    }

    #[test]
    fn the_end_and_bad_lines_stop_it() {
        assert_eq!(run("0 p 5\nend\n", 100).0, Ok(Progress::Ended));
        assert_eq!(run("9 p 5\n8 e\n", 100).0, Err(BadLine { line: 2 }));
        assert_eq!(run("boot 1\n", 100).0, Err(BadLine { line: 1 }));
        let mut bytes = "0 e\n".bytes();
        let boot = Replay::new().read_boot_id(&mut || bytes.next());
        assert_eq!(boot, Err(BadLine { line: 1 }));
    }

    #[test]
    fn the_first_line_names_the_start() {
        let mut bytes = "boot 41\n0 p 1\n".bytes();
        let mut replay = Replay::new();
        let boot = replay.read_boot_id(&mut || bytes.next());
        assert_eq!(boot, Ok(Some(41)));
    }
}
