//! Lines of the feed to records. No time passes here and nothing is replayed.

use tipcurve_firmware::SensorError;
use tipcurve_protocol::Quantity;

/// Longest line, its end not counted.
pub const MAX_LINE_BYTES: usize = 80;

/// Longest run of pressure codes in one line.
pub const MAX_RUN: usize = 64;

/// What a sensor says: a code, or why there is none.
pub type Reading = Result<i32, SensorError>;

/// One line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Record {
    /// `boot ID`: the number of this start. Only as the first line.
    Boot(u32),
    /// `every TICKS`: distance of the codes in a run, from here on.
    Every(u32),
    /// Something happens at a device time.
    At {
        /// When, in device ticks.
        device_ticks: u64,
        /// What.
        change: Change,
    },
    /// `end`: the feed is over; device time stands still from here.
    End,
}

/// What changes at a device time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Change {
    /// `p CODE`: the pressure converter gives this from here.
    Pressure(Reading),
    /// `q LETTERS`: pressure codes at even distance, the first at this time.
    Run(Run),
    /// `s QUANTITY CODE`: a slow channel, by its number on the wire, gives this from here.
    Slow(Quantity, Reading),
    /// `e`: an edge of the flow meter.
    Edge,
    /// `b`: the button goes down.
    Button,
    /// `.`: nothing; all that happened before is known.
    Nothing,
}

/// Pressure codes at even distance, each by its change from the one before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Run {
    letters: [u8; MAX_RUN],
    length: u8,
}

impl Run {
    /// Change of the code by which the run begins, taken off the run. `None` if nothing is left.
    pub fn take_first(&mut self) -> Option<i32> {
        let change = letter_change(*self.letters.get(..usize::from(self.length))?.first()?);
        self.length -= 1;
        self.letters.copy_within(1.., 0);
        change
    }

    /// Whether nothing is left.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.length == 0
    }

    fn parse(word: &str) -> Option<Self> {
        let mut run = Self {
            letters: [0; MAX_RUN],
            length: u8::try_from(word.len()).ok()?,
        };
        for (place, letter) in run.letters.iter_mut().zip(word.bytes()) {
            letter_change(letter)?;
            *place = letter;
        }
        (word.len() <= MAX_RUN).then_some(run)
    }
}

/// Change of the code that a letter stands for: `a` to `z` are 0 to 25, `A` to `Z` are -1 to -26.
fn letter_change(letter: u8) -> Option<i32> {
    match letter {
        b'a'..=b'z' => Some(i32::from(letter - b'a')),
        b'A'..=b'Z' => Some(-1 - i32::from(letter - b'A')),
        _ => None,
    }
}

/// A line that is none of the above.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BadLine {
    /// Its number, from 1.
    pub line: u32,
}

/// Collects bytes to lines.
#[derive(Debug)]
pub struct Lines {
    bytes: [u8; MAX_LINE_BYTES],
    length: usize,
    line: u32,
    last_ticks: u64,
    is_too_long: bool,
}

impl Default for Lines {
    fn default() -> Self {
        Self::new()
    }
}

impl Lines {
    /// Nothing read yet.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            bytes: [0; MAX_LINE_BYTES],
            length: 0,
            line: 0,
            last_ticks: 0,
            is_too_long: false,
        }
    }

    /// Lines read so far.
    #[must_use]
    pub const fn count(&self) -> u32 {
        self.line
    }

    /// Takes a byte; the record if it ended a line. Empty lines and lines that begin with `#` are
    /// passed over.
    ///
    /// # Errors
    /// [`BadLine`] if the line is too long or is no record.
    pub fn push(&mut self, byte: u8) -> Result<Option<Record>, BadLine> {
        if byte != b'\n' {
            match self.bytes.get_mut(self.length) {
                Some(place) => {
                    *place = byte;
                    self.length += 1;
                }
                None => self.is_too_long = true,
            }
            return Ok(None);
        }
        self.line = self.line.saturating_add(1);
        let bad = BadLine { line: self.line };
        let line = self.bytes.get(..self.length).unwrap_or_default();
        let is_comment = line.is_empty() || line.first() == Some(&b'#');
        let record = match core::str::from_utf8(line) {
            _ if is_comment => Ok(None),
            Ok(text) if !self.is_too_long => parse(text, self.last_ticks).map(Some).ok_or(bad),
            _ => Err(bad),
        };
        self.length = 0;
        self.is_too_long = false;
        if let Ok(Some(Record::At { device_ticks, .. })) = record {
            self.last_ticks = device_ticks;
        }
        record
    }
}

/// The record of a line; the last one was for `last_ticks`.
fn parse(text: &str, last_ticks: u64) -> Option<Record> {
    let mut words = text.split_ascii_whitespace();
    let record = match words.next()? {
        "end" => Record::End,
        "boot" => Record::Boot(words.next()?.parse().ok()?),
        "every" => Record::Every(words.next()?.parse().ok().filter(|ticks| *ticks > 0)?),
        ticks => Record::At {
            device_ticks: match ticks.strip_prefix('+') {
                Some(later) => last_ticks.checked_add(later.parse().ok()?)?,
                None => ticks.parse().ok()?,
            },
            change: parse_change(words.next()?, &mut words)?,
        },
    };
    words.next().is_none().then_some(record)
}

fn parse_change<'a>(kind: &str, words: &mut impl Iterator<Item = &'a str>) -> Option<Change> {
    Some(match kind {
        "p" => Change::Pressure(parse_reading(words.next()?)?),
        "q" => Change::Run(Run::parse(words.next()?)?),
        "s" => {
            let quantity: u8 = words.next()?.parse().ok()?;
            Change::Slow(Quantity::from(quantity), parse_reading(words.next()?)?)
        }
        "e" => Change::Edge,
        "b" => Change::Button,
        "." => Change::Nothing,
        _ => return None,
    })
}

/// A code, or `bus`, `busy` or `absent`.
fn parse_reading(word: &str) -> Option<Reading> {
    Some(match word {
        "bus" => Err(SensorError::Bus),
        "busy" => Err(SensorError::NotReady),
        "absent" => Err(SensorError::Absent),
        code => Ok(code.parse().ok()?),
    })
}

#[cfg(test)]
mod tests {
    extern crate std;
    use std::vec::Vec;

    use super::*;

    fn read(text: &str) -> Vec<Result<Record, BadLine>> {
        let mut lines = Lines::new();
        let pushed = text.bytes().map(|byte| lines.push(byte));
        pushed.filter_map(Result::transpose).collect()
    }

    #[track_caller]
    fn check(text: &str, device_ticks: u64, change: Change) {
        let record = Record::At {
            device_ticks,
            change,
        };
        assert_eq!(read(text), [Ok(record)]);
    }

    #[test]
    fn each_kind_of_line_is_read() {
        assert_eq!(read("boot 7\n"), [Ok(Record::Boot(7))]);
        assert_eq!(read("end\n"), [Ok(Record::End)]);
        check("0 p -17\n", 0, Change::Pressure(Ok(-17)));
        check("9 p bus\n", 9, Change::Pressure(Err(SensorError::Bus)));
        let slow = Change::Slow(Quantity::SupplyVoltage, Ok(18_200));
        check("5000000000 s 6 18200\n", 5_000_000_000, slow);
        let absent = Change::Slow(Quantity::AirHumidity, Err(SensorError::Absent));
        check("1 s 5 absent\n", 1, absent);
        let busy = Change::Slow(Quantity::AirHumidity, Err(SensorError::NotReady));
        check("1 s 5 busy\r\n", 1, busy);
        check("12 e\n", 12, Change::Edge);
        check("13 b\n", 13, Change::Button);
        check("14 .\n", 14, Change::Nothing);
        assert_eq!(read("every 2000\n"), [Ok(Record::Every(2_000))]);
    }

    #[test]
    fn a_time_may_be_given_from_the_one_before() {
        let times = read("5 e\n+7 e\n+0 b\n")
            .into_iter()
            .map(|record| match record {
                Ok(Record::At { device_ticks, .. }) => device_ticks,
                _ => 0,
            });
        assert_eq!(times.collect::<Vec<_>>(), [5, 12, 12]);
    }

    #[test]
    fn a_run_is_read_letter_by_letter() {
        let [
            Ok(Record::At {
                change: Change::Run(run),
                ..
            }),
        ] = read("3 q acZA\n")[..]
        else {
            panic!("a run");
        };
        let mut run = run;
        let changes = core::iter::from_fn(|| run.take_first());
        assert_eq!(changes.collect::<Vec<_>>(), [0, 2, -26, -1]);
    }

    #[test]
    fn comments_and_empty_lines_are_passed_over_and_half_a_line_waits() {
        assert_eq!(
            read("# made by hand\n\n3 e\n4 "),
            [Ok(Record::At {
                device_ticks: 3,
                change: Change::Edge
            })]
        );
    }

    #[test]
    fn a_line_that_is_no_record_is_named_by_its_number() {
        for bad in [
            "x",
            "1",
            "1 q",
            "1 p",
            "1 p 1.5",
            "1 e 2",
            "-1 e",
            "boot",
            "boot x",
            "1 s 300 1",
            "1 s 3",
            "\u{e9}",
            "1 p 99999999999",
            "1 q a1",
            "every 0",
            "+ e",
            "+18446744073709551616 e",
            "1 q aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa",
        ] {
            let text = std::format!("# one\n{bad}\n");
            assert_eq!(read(&text), [Err(BadLine { line: 2 })], "{bad}");
        }
        let long = std::format!("{}\n1 e\n", "1".repeat(MAX_LINE_BYTES + 1));
        let read = read(&long);
        assert_eq!(read.first(), Some(&Err(BadLine { line: 1 })));
        assert!(matches!(read.get(1), Some(Ok(_))), "the next line is read");
    }
}
