//! The ways of writing when a note was made, and back.

use jiff::Timestamp;
use jiff::tz::Offset;

use super::NoteTime;
use crate::recording::cells;
use crate::recording::fault::What;

/// Reads the `time` cell of a note.
///
/// # Errors
/// A text that is none of the ways that `notes.csv` knows.
pub(super) fn read(cell: &str) -> Result<NoteTime, What> {
    let not_a_time = || What::NotATime {
        cell: cells::clip(cell),
    };
    if cell.is_empty() {
        return Ok(NoteTime::OrderedOnly);
    }
    if let Some(seconds) = cell.strip_prefix("t+").or_else(|| cell.strip_prefix("T+")) {
        let t_s = cells::number(seconds.trim()).ok().flatten();
        return match t_s.filter(|t| *t >= 0.0) {
            Some(t_s) => Ok(NoteTime::Logger { t_s }),
            None => Err(not_a_time()),
        };
    }
    if let Some(about) = cell.strip_prefix('~') {
        let (since_midnight_s, _) = clock(about.trim()).ok_or_else(not_a_time)?;
        return Ok(NoteTime::About { since_midnight_s });
    }
    if let Some((since_midnight_s, resolution_s)) = clock(cell) {
        return Ok(NoteTime::Clock {
            since_midnight_s,
            resolution_s,
        });
    }
    date_time(cell).ok_or_else(not_a_time)
}

/// `HH:MM`, `HH:MM:SS` or `HH:MM:SS.sss` to seconds since midnight and how finely it is written.
fn clock(text: &str) -> Option<(f64, f64)> {
    let mut parts = text.split(':');
    let hours = two_digits(parts.next()?, 23)?;
    let minutes = two_digits(parts.next()?, 59)?;
    let whole_s = f64::from(hours) * 3600.0 + f64::from(minutes) * 60.0;
    match (parts.next(), parts.next()) {
        (None, _) => Some((whole_s, 60.0)),
        (Some(seconds), None) => {
            let (whole, fraction) = seconds.split_once('.').unwrap_or((seconds, ""));
            two_digits(whole, 59)?;
            let resolution_s = fraction_resolution_s(fraction)?;
            let seconds_s: f64 = seconds.parse().ok()?;
            Some((whole_s + seconds_s, resolution_s))
        }
        _ => None,
    }
}

/// One or two digits up to `most`.
fn two_digits(text: &str, most: u8) -> Option<u8> {
    let is_plain = (1..=2).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_digit());
    text.parse().ok().filter(|v| is_plain && *v <= most)
}

/// How finely a fraction of a second is written; 1 s without one.
fn fraction_resolution_s(digits: &str) -> Option<f64> {
    let n = i32::try_from(digits.len()).ok().filter(|n| *n <= 9)?;
    digits
        .bytes()
        .all(|b| b.is_ascii_digit())
        .then(|| 10f64.powi(-n))
}

/// An RFC 3339 date-time with its offset from UTC.
fn date_time(text: &str) -> Option<NoteTime> {
    let moment: Timestamp = text.parse().ok()?;
    let fraction: String = text
        .split_once('.')
        .map(|(_, after)| after.chars().take_while(char::is_ascii_digit).collect())
        .unwrap_or_default();
    Some(NoteTime::Absolute {
        unix_s: moment.as_duration().as_secs_f64(),
        resolution_s: fraction_resolution_s(&fraction)?,
    })
}

/// The `time` cell of a note; reading it again gives an equal value.
pub(super) fn write(time: &NoteTime, utc_offset_s: f64) -> String {
    match *time {
        NoteTime::OrderedOnly => String::new(),
        NoteTime::Logger { t_s } => format!("t+{t_s}"),
        NoteTime::About { since_midnight_s } => format!("~{}", write_clock(since_midnight_s, 60.0)),
        NoteTime::Clock {
            since_midnight_s,
            resolution_s,
        } => write_clock(since_midnight_s, resolution_s),
        NoteTime::Absolute {
            unix_s,
            resolution_s,
        } => write_date_time(unix_s, resolution_s, utc_offset_s),
    }
}

/// A moment as an RFC 3339 date-time with this offset from UTC, to the millisecond where it has
/// a fraction.
#[must_use]
pub fn write_moment(unix_s: f64, utc_offset_s: f64) -> String {
    let is_whole = (unix_s - unix_s.round()).abs() < 5.0e-4;
    let resolution_s = if is_whole { 1.0 } else { 0.001 };
    write_date_time(unix_s, resolution_s, utc_offset_s)
}

fn write_clock(since_midnight_s: f64, resolution_s: f64) -> String {
    let minutes = (since_midnight_s / 60.0).floor();
    let seconds = since_midnight_s - minutes * 60.0;
    let (h, m) = ((minutes / 60.0).floor(), minutes % 60.0);
    let digits = fraction_digits(resolution_s);
    let width = if digits == 0 { 2 } else { 3 + digits };
    if resolution_s >= 60.0 && seconds == 0.0 {
        format!("{h:02.0}:{m:02.0}")
    } else {
        format!("{h:02.0}:{m:02.0}:{seconds:0width$.digits$}")
    }
}

fn write_date_time(unix_s: f64, resolution_s: f64, utc_offset_s: f64) -> String {
    let digits = fraction_digits(resolution_s);
    // Rounded to the digits shown, because the printer cuts; a quarter more, because a double of today's seconds
    // lies up to a tenth of a microsecond below what it stands for.
    let scale = 10f64.powi(i32::try_from(digits).unwrap_or(0));
    let shown_s = ((unix_s * scale).round() + 0.25) / scale;
    let duration = jiff::SignedDuration::try_from_secs_f64(shown_s).unwrap_or_default();
    let moment = Timestamp::from_duration(duration).unwrap_or_default();
    #[expect(
        clippy::cast_possible_truncation,
        reason = "a cast from f64 stops at the ends of i32, and jiff refuses what is no offset"
    )]
    let offset = Offset::from_seconds(utc_offset_s.round() as i32).unwrap_or(Offset::UTC);
    let precision = u8::try_from(digits).unwrap_or(9);
    let printer = jiff::fmt::temporal::DateTimePrinter::new().precision(Some(precision));
    printer.timestamp_with_offset_to_string(&moment, offset)
}

/// Decimals that show a resolution.
fn fraction_digits(resolution_s: f64) -> usize {
    (0..9)
        .find(|n| resolution_s >= 0.999 * 10f64.powi(-n))
        .and_then(|n| usize::try_from(n).ok())
        .unwrap_or(9)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(cell: &str, expected: NoteTime) {
        let time = read(cell).unwrap();
        assert_eq!(time, expected, "{cell}");
        let written = write(&time, -12_600.0);
        assert_eq!(read(&written).unwrap(), time, "{cell} written as {written}");
    }

    /// An undo names its note by the moment as written: written again, it must be the same to the digit.
    #[test]
    fn a_moment_written_read_and_written_again_is_the_same() {
        for ms in 0..1000u32 {
            let text = write_moment(1_795_638_790.0 + f64::from(ms) * 1e-3, 0.0);
            let NoteTime::Absolute { unix_s, .. } = read(&text).unwrap() else {
                panic!("{text}");
            };
            assert_eq!(write_moment(unix_s, 0.0), text);
            assert!(
                (unix_s - 1_795_638_790.0 - f64::from(ms) * 1e-3).abs() < 1e-6,
                "{text}"
            );
        }
    }

    #[test]
    fn every_way_of_writing_a_time_is_read_and_written_back() {
        let clock = |since_midnight_s, resolution_s| NoteTime::Clock {
            since_midnight_s,
            resolution_s,
        };
        check("", NoteTime::OrderedOnly);
        check("11:45", clock(42_300.0, 60.0));
        check("11:45:33", clock(42_333.0, 1.0));
        check("11:45:33.25", clock(42_333.25, 0.01));
        check("9:05", clock(32_700.0, 60.0));
        check(
            "~13:07",
            NoteTime::About {
                since_midnight_s: 47_220.0,
            },
        );
        check("t+125.5", NoteTime::Logger { t_s: 125.5 });
        // 2024-01-16T11:18:13Z: days to 2024-01-16 are 19738 (from memory, `date -d` agrees).
        let unix_s = 19_738.0 * 86_400.0 + 40_693.0;
        let absolute = |unix_s, resolution_s| NoteTime::Absolute {
            unix_s,
            resolution_s,
        };
        check("2024-01-16T11:18:13Z", absolute(unix_s, 1.0));
        check("2024-01-16T11:18:13+00:00", absolute(unix_s, 1.0));
        check("2024-01-16T16:18:13+05:00", absolute(unix_s, 1.0));
        check(
            "2024-01-16T06:18:13.500-05:00",
            absolute(unix_s + 0.5, 0.001),
        );
    }

    #[test]
    fn a_date_time_is_written_for_the_clock_on_the_wall() {
        let time = read("2024-01-16T11:18:13Z").unwrap();
        assert_eq!(write(&time, 3_600.0), "2024-01-16T12:18:13+01:00");
        assert_eq!(write(&time, 0.0), "2024-01-16T11:18:13+00:00");
    }

    #[test]
    fn what_is_no_time_is_refused() {
        for cell in [
            "25:00",
            "12:60",
            "12:00:60",
            "noon",
            "12",
            "t+",
            "t+x",
            "t+-3",
            "t+nan",
            "~",
            "~x",
            "12:5:x",
            "123:00",
            "-1:00",
            "2024-01-16",
            "2024-01-16T11:18:13",
            "7:05 pm",
            "12:00:00:00",
            "1:2:3.x",
        ] {
            assert!(read(cell).is_err(), "{cell}");
        }
    }
}
