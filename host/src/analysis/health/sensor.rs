//! A pressure sensor at the top of its range, or one that does not answer.

use super::{Defect, DefectKind};
use crate::analysis::burst::Burst;
use crate::analysis::signal::Signal;
use crate::analysis::sliding::quantile;
use crate::analysis::thresholds::{BEYOND_FULL_SCALE_RATIO, HIGHEST_RIG_PA, STUCK_S};

/// Shortest flat top that counts, s.
const SHORTEST_FLAT_S: f64 = 0.4;

/// Stretches where pressure stands at its very highest reading.
///
/// A working sensor's highest reading is the tip of its noise and stands alone; a clipped one
/// repeats. A stretch counts when consecutive samples show the recording's highest reading (to half
/// a step) for 0.4 s and together they are more than a hundredth of the recording.
pub(super) fn find_saturation(signal: &Signal, highest_pa: f64) -> Vec<Defect> {
    if highest_pa <= 0.0 {
        return Vec::new();
    }
    let tolerance = (1.0e-5 * highest_pa).max(1.0);
    let flats = equal_runs(signal, |p| highest_pa - p <= tolerance);
    let flats: Vec<(f64, f64)> = flats
        .into_iter()
        .filter(|(a, b)| b - a >= SHORTEST_FLAT_S)
        .collect();
    let total_s: f64 = flats.iter().map(|(a, b)| b - a).sum();
    let span_s = signal.t_s.last().unwrap_or(&0.0) - signal.t_s.first().unwrap_or(&0.0);
    if total_s < 0.01 * span_s {
        return Vec::new();
    }
    let is_stuck_alone = flats.len() == 1 && flats[0].1 >= span_s * 0.98;
    if is_stuck_alone {
        return Vec::new();
    }
    flats
        .into_iter()
        .map(|(from_s, to_s)| Defect {
            kind: DefectKind::PressureSaturated,
            from_s,
            to_s,
            magnitude: Some(highest_pa),
            is_fatal: true,
            consequence: "pressure stands at the top of the sensor's range: the true pressure is \
                          higher by an unknown amount, bursts here are not used"
                .to_owned(),
        })
        .collect()
}

/// The whole recording, where its pressures lie beyond what the sensor can read. Without a full scale the highest
/// pressure that any rig makes stands in for it.
///
/// A hundredth of the readings may be spikes: the level below which 99 % lie is what counts.
pub(super) fn find_beyond(signal: &Signal, highest_pa: f64) -> Option<Defect> {
    let most_pa = signal
        .pressure_sensor
        .full_scale_pa
        .map_or(HIGHEST_RIG_PA, |full| BEYOND_FULL_SCALE_RATIO * full);
    if highest_pa <= most_pa {
        return None;
    }
    let finite = || signal.pressure_pa.iter().copied().filter(|p| p.is_finite());
    let allowed = finite().count() / 100;
    if finite().filter(|p| *p > most_pa).count() <= allowed {
        return None;
    }
    let level_pa = quantile(&mut finite().collect::<Vec<f64>>(), 0.99);
    Some(Defect {
        kind: DefectKind::PressureBeyondSensor,
        from_s: signal.t_s.first().copied().unwrap_or(0.0),
        to_s: signal.t_s.last().copied().unwrap_or(0.0),
        magnitude: level_pa,
        is_fatal: true,
        consequence: "pressure reads far above what the sensor can show: the readings are in another unit than \
                      bar, or full_scale_bar in session.toml is wrong; no burst is used"
            .to_owned(),
    })
}

/// Stretches where pressure does not change at all although a burst starts or ends in them.
pub(super) fn find_stuck(signal: &Signal, highest_pa: f64, bursts: &[Burst]) -> Vec<Defect> {
    let mut defects = Vec::new();
    let mut begin = 0;
    let p = &signal.pressure_pa;
    // The scale of one reading step; a frozen reading repeats to the digit, some loggers add a
    // last-digit flicker.
    let tolerance = 1.0e-6 * highest_pa.max(1.0);
    for i in 1..=p.len() {
        let goes_on = i < p.len() && (p[i].is_nan() || (p[i] - p[begin]).abs() <= tolerance);
        if goes_on {
            continue;
        }
        let (from_s, to_s) = (signal.t_s[begin], signal.t_s[i - 1]);
        let has_event = || {
            bursts.iter().any(|b| {
                let inside = |t: f64| t > from_s + 0.2 && t < to_s - 0.2;
                inside(b.start_s) || inside(b.end_s)
            })
        };
        if to_s - from_s >= STUCK_S && has_event() {
            defects.push(Defect {
                kind: DefectKind::PressureStuck,
                from_s,
                to_s,
                magnitude: Some(p[begin]),
                is_fatal: true,
                consequence: "pressure does not move while the trigger opens and closes: a dead \
                              sensor or a blocked port, bursts here are not used; a blocked port \
                              can hide full pressure"
                    .to_owned(),
            });
        }
        begin = i;
    }
    defects
}

/// Runs of samples that satisfy a predicate: begin and end times. `NaN` samples do not break a run.
fn equal_runs(signal: &Signal, is_in: impl Fn(f64) -> bool) -> Vec<(f64, f64)> {
    let mut runs = Vec::new();
    let mut open: Option<(f64, f64)> = None;
    for (t, p) in signal.t_s.iter().zip(&signal.pressure_pa) {
        if p.is_nan() {
            continue;
        }
        if is_in(*p) {
            open = Some((open.map_or(*t, |(a, _)| a), *t));
        } else {
            runs.extend(open.take());
        }
    }
    runs.extend(open);
    runs
}
