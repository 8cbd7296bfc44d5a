//! A calibration in words, in the reader's units. Expanded uncertainties, about 95 %.

use crate::calibrate::result::{Calibration, MeterResult, SensorResult};
use crate::live::phrase::Phrase;
use crate::units::M3_PER_L;

/// What was found, most important first.
#[must_use]
pub fn say(calibration: &Calibration) -> Vec<Phrase> {
    let mut words = Vec::new();
    if let Some(sensor) = &calibration.pressure {
        zero(sensor, &mut words);
        gain(sensor, &mut words);
    }
    if let Some(meter) = &calibration.meter {
        constant(meter, &mut words);
    }
    words
}

fn zero(sensor: &SensorResult, words: &mut Vec<Phrase>) {
    let (zero_pa, u_zero_pa) = sensor.zero_pa();
    words.push(
        Phrase::text("Zero: ")
            .fine_pressure(zero_pa)
            .and(" ± ")
            .fine_pressure(2.0 * u_zero_pa)
            .and("."),
    );
    match sensor.zero.drift_pa {
        Some(drift) if sensor.zero.is_drifting => words.push(
            Phrase::text("It drifted by ")
                .fine_pressure(drift.value)
                .and(" between before and after, more than its uncertainty; let the sensor warm up and look again."),
        ),
        Some(_) => words.push(Phrase::text("No drift between before and after is seen.")),
        None => words.push(Phrase::text("It was taken once, so its drift is not known.")),
    }
}

fn gain(sensor: &SensorResult, words: &mut Vec<Phrase>) {
    let (Some((gain, u_ratio)), Some(span)) = (sensor.gain(), &sensor.span) else {
        words.push(Phrase::text(
            "No comparison with a gauge: the span stays as the sensor's sheet says.",
        ));
        return;
    };
    let points = sensor.points.len();
    words.push(
        Phrase::text(format!(
            "Gain: {gain:.4} ± {:.2} %, from {points} comparison{}; the largest deviation is ",
            200.0 * u_ratio,
            if points == 1 { "" } else { "s" },
        ))
        .fine_pressure(span.greatest_residual_pa)
        .and("."),
    );
}

fn constant(meter: &MeterResult, words: &mut Vec<Phrase>) {
    let k = meter.k_factor_per_m3.value * M3_PER_L;
    let (low_hz, high_hz) = meter.fit.range_hz;
    let n = meter.fit.points.len();
    words.push(Phrase::text(format!(
        "Flow constant: {k:.1} pulses/L ± {:.2} %, from {n} catch{} at {low_hz:.1} to {high_hz:.1} pulses/s.",
        200.0 * meter.u_ratio(),
        if n == 1 { "" } else { "es" },
    )));
    if let Some((source, share)) = meter.largest_source() {
        words.push(Phrase::text(format!(
            "The largest part of its uncertainty ({:.0} %) is: {}.",
            100.0 * share,
            source.replace('_', " "),
        )));
    }
    if meter.fit.slip_is_significant {
        words.push(Phrase::text(format!(
            "The constant changes by {:.2} % over that range: the meter slips at low flow.",
            100.0 * meter.slip_ratio
        )));
    }
    if n < 4 {
        words.push(Phrase::text(
            "Four catches or more, the fastest flow half as much again as the slowest, also show whether the \
             meter slips.",
        ));
    }
}
