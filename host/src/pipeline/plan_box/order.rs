//! Recordings in order of time, and whether two of them share their instruments.

use crate::findings::Findings;

/// The recordings, earliest first, where every one has a start or a date; as given otherwise.
#[must_use]
pub fn in_order_of_time<'a>(findings: &[&'a Findings]) -> Vec<&'a Findings> {
    let mut list = findings.to_vec();
    let start = |f: &Findings| f.settings.started_at_unix_s;
    if list.iter().all(|f| start(f).is_some()) {
        list.sort_by(|a, b| {
            let (a, b) = (start(a).unwrap_or(0.0), start(b).unwrap_or(0.0));
            a.total_cmp(&b)
        });
    } else if list.iter().all(|f| f.settings.date.is_some()) {
        list.sort_by(|a, b| a.settings.date.cmp(&b.settings.date));
    }
    list
}

/// True when two recordings state another meter constant, another sensor or another accuracy: then their
/// calibrations do not shift both alike.
#[must_use]
pub fn instruments_differ(a: &Findings, b: &Findings) -> bool {
    a.settings.flow_meter != b.settings.flow_meter
        || a.settings.pressure_sensor != b.settings.pressure_sensor
}
