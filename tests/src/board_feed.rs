//! What the emulated board's sensors shall say, as lines of its feed.
//!
//! In: pressure codes at even distance, times of edges and of other changes. Out: the text that
//! `firmware/boards/emulated/FEED.md` describes. Nothing here starts or talks to a board.

use std::fmt::Write as _;

/// Longest run that a line may hold.
const MAX_RUN: usize = 64;

/// Everything that happens to a board between its start and the end of the feed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Scenario {
    /// Number of the start.
    pub boot_id: u32,
    /// Device ticks between pressure codes.
    pub period_ticks: u32,
    /// Pressure codes, the first at tick 0.
    pub codes: Vec<i32>,
    /// Edges of the flow meter, ascending.
    pub edge_ticks: Vec<u64>,
    /// Slow readings: from when, the quantity's number on the wire, the code; ascending.
    pub slow: Vec<(u64, u8, i32)>,
    /// Presses of the button, ascending.
    pub button_ticks: Vec<u64>,
}

impl Scenario {
    /// When the feed ends, in device ticks: one period after the last code.
    #[must_use]
    pub fn end_ticks(&self) -> u64 {
        self.codes.len() as u64 * u64::from(self.period_ticks)
    }

    /// The feed from the start to its end.
    #[must_use]
    pub fn to_feed(&self) -> String {
        let mut feed = Feed {
            text: format!("boot {}\nevery {}\n", self.boot_id, self.period_ticks),
            last_ticks: 0,
        };
        let edges = self.edge_ticks.iter().map(|at| (*at, "e".to_owned()));
        let slow = self.slow.iter();
        let slow = slow.map(|(at, quantity, code)| (*at, format!("s {quantity} {code}")));
        let presses = self.button_ticks.iter().map(|at| (*at, "b".to_owned()));
        let mut events: Vec<_> = edges.chain(slow).chain(presses).collect();
        events.sort_by_key(|(at, _)| *at);
        let mut n_codes = 0;
        for (at, event) in events {
            n_codes = self.put_codes(&mut feed, n_codes, at);
            feed.put(at, &event);
        }
        self.put_codes(&mut feed, n_codes, u64::MAX);
        feed.put(self.end_ticks(), ".");
        feed.text.push_str("end\n");
        feed.text
    }

    /// Appends the codes due up to a time, from number `index` on; the number of the next.
    fn put_codes(&self, feed: &mut Feed, mut index: usize, until_ticks: u64) -> usize {
        let ticks_of = |index: usize| index as u64 * u64::from(self.period_ticks);
        while let Some(code) = self.codes.get(index) {
            if ticks_of(index) > until_ticks {
                break;
            }
            let previous = index.checked_sub(1).and_then(|at| self.codes.get(at));
            let Some(letter) = previous.and_then(|previous| letter_of(code - previous)) else {
                feed.put(ticks_of(index), &format!("p {code}"));
                index += 1;
                continue;
            };
            let start = index;
            let mut run = String::from("q ");
            run.push(letter);
            index += 1;
            while index - start < MAX_RUN && ticks_of(index) <= until_ticks {
                let pair = self.codes.get(index - 1).zip(self.codes.get(index));
                let Some(letter) = pair.and_then(|(from, to)| letter_of(to - from)) else {
                    break;
                };
                run.push(letter);
                index += 1;
            }
            feed.put(ticks_of(start), &run);
        }
        index
    }
}

/// Lines so far.
struct Feed {
    text: String,
    last_ticks: u64,
}

impl Feed {
    fn put(&mut self, ticks: u64, change: &str) {
        let later = ticks - self.last_ticks;
        self.last_ticks = ticks;
        // Writing to a string cannot fail.
        let _ = writeln!(self.text, "+{later} {change}");
    }
}

/// The letter for a change of the code, if it is small enough.
fn letter_of(change: i32) -> Option<char> {
    let (first, steps) = match change {
        0..=25 => (b'a', change),
        -26..=-1 => (b'A', -1 - change),
        _ => return None,
    };
    let steps = u8::try_from(steps).ok()?;
    Some(char::from(first + steps))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_feed_is_in_the_order_of_time_and_as_short_as_its_rules_allow() {
        let scenario = Scenario {
            boot_id: 9,
            period_ticks: 2_000,
            codes: vec![100, 101, 99, 500, 500, 474],
            edge_ticks: vec![2_000, 4_500],
            slow: vec![(0, 6, 18_200)],
            button_ticks: vec![9_999],
        };
        let expected = "boot 9\nevery 2000\n+0 p 100\n+0 s 6 18200\n+2000 q b\n+0 e\n+2000 q B\n\
                        +500 e\n+1500 p 500\n+2000 q a\n+1999 b\n+1 q Z\n+2000 .\nend\n";
        assert_eq!(scenario.to_feed(), expected);
    }
}
