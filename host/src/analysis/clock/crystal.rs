//! How far the rate of a clock's crystal strays from the one that was fitted, and what that adds to a mapped time.
//!
//! A line through arrivals holds where it touches them. Away from there the clocks go on at rates that temperature
//! changes. All numbers from memory of data sheets, none looked up:
//!
//! - a tuning-fork crystal loses about 0.035 ppm/K^2 times the square of the distance from 25 degrees Celsius: between
//!   5 and 45 its rate varies by 14 ppm;
//! - an AT-cut crystal follows a cubic curve, some ppm over the same range;
//! - ageing, some ppm in the first year, is a hundredth of one in a day and left out.
//!
//! The host's clock is taken as an AT-cut crystal indoors; one that a time service pulls by tens of ppm is not covered, as
//! long as it is not a jump. Beyond that range of temperatures, nor is the logger's.

/// Standard uncertainty of the difference of the two rates from the fitted one, 1: the interval of 95 % reaches 21 ppm,
/// the logger's 14 and 7 of the host's at once.
const U_RATE: f64 = 1.0e-5;

/// Time that a boxed logger takes to follow the air, s (common practice, no source). Rates that are less far apart in
/// time differ the less.
const FOLLOWING_S: f64 = 1_800.0;

/// Standard uncertainty, s, by the rates' change, of a time mapped `away_s` from the nearest arrival that the line
/// touches. The line's rate is the mean over the `span_s` between the two arrivals it touches: over a long one it is no
/// rate that the clocks had at any of its ends.
pub(super) fn u_wander_s(away_s: f64, span_s: f64) -> f64 {
    let apart_s = away_s.max(span_s);
    U_RATE * away_s * (apart_s / FOLLOWING_S).min(1.0)
}

#[cfg(test)]
mod tests {
    use crate::analysis::clock::{ClockModel, Link, fit_clock};
    use crate::estimate::Estimate;

    const DAY_S: f64 = 86_400.0;
    const STEP_S: f64 = 10.0;
    /// What the line itself may be off by through the delays, which are no exponential ones here: its own coverage is
    /// counted elsewhere.
    const DELAYS_S: f64 = 0.001;

    /// Rate of a tuning-fork crystal by its temperature: the parabola above, from memory.
    fn rate(celsius: f64) -> f64 {
        -0.035e-6 * (celsius - 25.0).powi(2)
    }

    /// Arrivals every ten seconds over a day, 1 to 31 ms late; the logger's crystal has this temperature at a time.
    fn day(celsius: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
        let mut logger_s = 0.0;
        let step = |i: u32| {
            let host_s = STEP_S * f64::from(i);
            let now_s = logger_s;
            logger_s += STEP_S * (1.0 + 12.0e-6 + rate(celsius(host_s)));
            (now_s, host_s)
        };
        (0..=8_640).map(step).collect()
    }

    fn fitted(truth: &[(f64, f64)]) -> ClockModel {
        let late = |i: usize| 0.001 * f64::from(u8::try_from((i * i * 13 + 5 * i) % 31).unwrap());
        let arrivals: Vec<(f64, f64)> = truth
            .iter()
            .enumerate()
            .map(|(i, (logger_s, host_s))| (*logger_s, host_s + 0.001 + late(i)))
            .collect();
        let link = Link {
            least_delay_s: Estimate::exact(0.001),
            resolution_s: 0.0,
        };
        fit_clock(&arrivals, &link).unwrap()
    }

    /// Every moment of the day lies in its interval, both ways; only the first `n` arrivals are known.
    #[track_caller]
    fn check(celsius: impl Fn(f64) -> f64, n: usize) {
        let truth = day(celsius);
        let model = fitted(&truth[..n]);
        for (logger_s, host_s) in truth.iter().step_by(30) {
            let found = model.host_time(*logger_s).unwrap();
            let (off_s, width_s) = (found.value - host_s, found.interval_95());
            assert!(
                off_s.abs() < 0.5 * (width_s.high - width_s.low) + DELAYS_S,
                "{off_s} s at {host_s} s: {found:?}"
            );
            let back = model.logger_times(*host_s)[0];
            let (off_s, width_s) = (back.value - logger_s, back.interval_95());
            let room_s = 0.5 * (width_s.high - width_s.low) + DELAYS_S;
            assert!(off_s.abs() < room_s, "{off_s} s: {back:?}");
        }
    }

    #[test]
    fn a_day_of_twenty_degrees_is_covered() {
        let noon = |t: f64| 25.0 + 20.0 * (std::f64::consts::PI * t / DAY_S).sin();
        let out_and_in = |t: f64| {
            let carried_out = 25.0 - 20.0 * (1.0 - (-(t - 3.0e4).max(0.0) / 1_800.0).exp());
            carried_out + 20.0 * (1.0 - (-(t - 6.0e4).max(0.0) / 1_800.0).exp())
        };
        for n in [8_641, 2_160, 360] {
            check(noon, n);
            check(|t| 5.0 + 20.0 * t / DAY_S, n);
            check(|t| 45.0 - 20.0 * t / DAY_S, n);
            check(out_and_in, n);
        }
    }

    #[test]
    fn minutes_are_as_sharp_as_before_and_a_day_stays_within_two_seconds() {
        let truth = day(|_| 20.0);
        let model = fitted(&truth[..61]);
        let inside = model.host_time(300.0).unwrap();
        assert!(inside.u_independent < 0.002, "{inside:?}");
        let far = model.host_time(DAY_S).unwrap();
        let line = model.segments[0].line_at(DAY_S);
        let added_s = (far.u_independent.powi(2) - line.u_independent.powi(2)).sqrt();
        assert!((0.8..0.9).contains(&added_s), "{added_s}");
    }
}
