//! Times of notes as they were written.

use crate::recording::notes::NoteTime;

/// A note's time in words, to the fineness that it was written with.
pub(crate) fn note_time(time: &NoteTime) -> String {
    match *time {
        NoteTime::Absolute {
            unix_s,
            resolution_s,
        } => clock(unix_s.rem_euclid(86_400.0), resolution_s) + " UTC",
        NoteTime::Clock {
            since_midnight_s,
            resolution_s,
        } => clock(since_midnight_s, resolution_s),
        NoteTime::About { since_midnight_s } => format!("about {}", clock(since_midnight_s, 60.0)),
        NoteTime::Logger { t_s } if t_s.is_finite() => format!("t+{t_s:.1} s"),
        NoteTime::Logger { .. } | NoteTime::OrderedOnly => "order only".to_owned(),
    }
}

fn clock(since_midnight_s: f64, resolution_s: f64) -> String {
    if !since_midnight_s.is_finite() {
        return "order only".to_owned();
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let total = since_midnight_s.clamp(0.0, 1.0e6).floor() as u64;
    let (h, m, s) = (total / 3600, total / 60 % 60, total % 60);
    if resolution_s < 60.0 {
        format!("{h:02}:{m:02}:{s:02}")
    } else {
        format!("{h:02}:{m:02}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_keep_the_fineness_they_were_written_with() {
        let text = |time| note_time(&time);
        assert_eq!(
            text(NoteTime::Clock {
                since_midnight_s: 42_333.0,
                resolution_s: 1.0
            }),
            "11:45:33"
        );
        assert_eq!(
            text(NoteTime::About {
                since_midnight_s: 42_300.0
            }),
            "about 11:45"
        );
        assert_eq!(text(NoteTime::Logger { t_s: 125.5 }), "t+125.5 s");
        assert_eq!(text(NoteTime::OrderedOnly), "order only");
    }
}
