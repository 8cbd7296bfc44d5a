//! Local time for a person, and the few facts of this computer that verbs need.

use jiff::Timestamp;
use jiff::tz::TimeZone;

/// Local time's offset from UTC at a moment, s; 0 where the system does not say.
pub(super) fn utc_offset_s(unix_s: f64) -> f64 {
    TimeZone::try_system().map_or(0.0, |zone| {
        f64::from(zone.to_offset(moment(unix_s)).seconds())
    })
}

/// `2026-03-02`, local.
pub(super) fn date(unix_s: f64, offset_s: f64) -> String {
    moment(unix_s + offset_s).strftime("%Y-%m-%d").to_string()
}

/// `recording-2026-03-02-1405`, local.
pub(super) fn folder_name(unix_s: f64, offset_s: f64) -> String {
    moment(unix_s + offset_s)
        .strftime("recording-%Y-%m-%d-%H%M%S")
        .to_string()
}

fn moment(unix_s: f64) -> Timestamp {
    jiff::SignedDuration::try_from_secs_f64(unix_s)
        .ok()
        .and_then(|since| Timestamp::from_duration(since).ok())
        .unwrap_or_default()
}
