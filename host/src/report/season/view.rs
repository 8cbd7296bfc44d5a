//! What a season shows: words and rounded numbers in the reader's units, without markup.

use crate::analysis::answer::Change;
use crate::analysis::season::{FEWEST, LeftOut, MONTH_S, PumpTrend, Season, TipTrend, Trend};
use crate::analysis::thresholds::WEAK_BATTERY_RATIO;
use crate::analysis::verdict::Advice;
use crate::estimate::coverage_factor_95;
use crate::report::cautions::{Caution, beside_advice};
use crate::report::figure::Trend as Drawn;
use crate::report::number::{Kind, Show};
use crate::report::piece::{Sentence, printable, quoted, say};
use crate::units::{FlowUnit, M3_PER_L};

const HOUR_S: f64 = 3600.0;
const DAY_S: f64 = 24.0 * HOUR_S;

/// The whole season.
pub(super) struct SeasonView {
    pub(super) title: String,
    pub(super) notices: Vec<Sentence>,
    pub(super) parts: Vec<PartView>,
}

/// One trend.
pub(super) struct PartView {
    pub(super) heading: Sentence,
    pub(super) headline: Sentence,
    pub(super) facts: Vec<Sentence>,
    pub(super) advice: Vec<(&'static str, Option<&'static str>)>,
    pub(super) drawn: Drawn,
    pub(super) figure_title: &'static str,
}

impl SeasonView {
    pub(super) fn new(season: &Season, name: &str, show: Show) -> Self {
        let mut notices = Vec::new();
        if season.is_simulated {
            notices.push(Sentence::from(
                "Simulated data: no paint was sprayed; do not set a real rig by it.",
            ));
        }
        let mut line = say![
            count(show, season.n_recordings, "/n_recordings"),
            " recordings"
        ];
        if season.n_without_curve > 0 {
            line.push(say![
                ", ",
                count(show, season.n_without_curve, "/n_without_curve"),
                " of them without a curve"
            ]);
        }
        line.push(
            ". One tip code is taken as one tip: give a new tip of the same code its own label.",
        );
        notices.push(line);
        if season.tips.is_empty() && season.pumps.is_empty() {
            notices.push(Sentence::from(
                "Nothing to draw: no recording has a nozzle curve or a supply curve; `tipcurve report` says for each what \
                 is missing.",
            ));
        }
        let tips = season
            .tips
            .iter()
            .enumerate()
            .map(|(i, t)| tip_part(t, show, i));
        let pumps = season
            .pumps
            .iter()
            .enumerate()
            .map(|(i, p)| pump_part(p, show, i));
        Self {
            title: format!("Season: {}", printable(name)),
            notices,
            parts: tips.chain(pumps).collect(),
        }
    }
}

fn count(show: Show, n: usize, key: &str) -> Sentence {
    #[allow(clippy::cast_precision_loss)]
    show.plain(Kind::Count, n as f64, key)
}

/// What went through a tip, to a tenth while it is little.
fn volume(volume_m3: f64, show: Show, key: String) -> Sentence {
    let decimals = i32::from(show.to_unit(Kind::Volume, volume_m3) < 10.0);
    show.fixed(Kind::Volume, volume_m3, decimals, key)
}

/// Ten litres in the reader's unit, as words that belong to a rate.
const fn ten_litres(unit: FlowUnit) -> &'static str {
    match unit {
        FlowUnit::LitrePerMinute => " for each 10\u{a0}L.",
        FlowUnit::UsGallonPerMinute => " for each 2.64\u{a0}US gal.",
    }
}

fn tip_part(t: &TipTrend, show: Show, index: usize) -> PartView {
    let key = |member: &str| format!("/tips/{index}/{member}");
    let mut heading = say!["Tip ", quoted(&t.tip)];
    if !t.material.is_empty() {
        heading.push(say![", ", quoted(&t.material)]);
    }
    if t.thinner_ratio > 0.0 {
        let thinner = show.plain(Kind::Percent, t.thinner_ratio, key("thinner_ratio"));
        heading.push(say![", ", thinner, " thinner"]);
    }
    let word = match t.trend.change {
        Change::MovedUp => "It lets more through than at the start: it is wearing. Flow rose by ",
        Change::MovedDown => {
            "It lets less through than at the start: it is clogging. Flow changed by "
        }
        Change::DidNotMove => "It did not wear, within 5 %. Flow changed by ",
        Change::CannotTell => "Whether it wears cannot be told. Flow changed by ",
    };
    let mut facts = vec![say![
        "Compared at ",
        show.plain(Kind::Pressure, t.trend.at, key("at_pressure_pa")),
        "; ",
        volume(t.volume_m3, show, key("volume_m3")),
        " went through it in all coatings."
    ]];
    if let Some(line) = &t.trend.line {
        // Per ten litres: the share that a painter can place.
        let slope = line.slope().scaled(10.0 * M3_PER_L);
        facts.push(say![
            "That is ",
            show.plus_minus(
                Kind::Percent,
                (slope.value, key("slope_per_10_l/value")),
                (slope.expanded_95(), key("slope_per_10_l/expanded_95"))
            ),
            ten_litres(show.units.flow)
        ]);
    }
    facts.extend(left_out(&t.trend, show, &key));
    let advice = match t.trend.change {
        Change::MovedUp => vec![(
            "Look at the fan: when it has narrowed, relieve the pressure, lock the trigger and replace the tip.",
            beside_advice(Advice::ReplaceTip).map(Caution::text),
        )],
        Change::MovedDown => vec![(
            "Relieve the pressure, lock the trigger, clean the tip and the gun filter; strain the coating.",
            beside_advice(Advice::CleanTip).map(Caution::text),
        )],
        Change::DidNotMove | Change::CannotTell => Vec::new(),
    };
    PartView {
        heading,
        headline: headline(&t.trend, word, show, &key),
        facts,
        advice,
        drawn: drawn(
            &t.trend,
            show,
            Kind::Flow,
            1.0 / show.to_unit(Kind::Volume, 1.0),
            match show.units.flow {
                FlowUnit::LitrePerMinute => "Through the tip, L",
                FlowUnit::UsGallonPerMinute => "Through the tip, US gal",
            },
        ),
        figure_title: "Tip wear over what went through",
    }
}

fn pump_part(p: &PumpTrend, show: Show, index: usize) -> PartView {
    let key = |member: &str| format!("/pumps/{index}/{member}");
    let mut heading = match &p.rig {
        Some(rig) => say!["Pump: ", quoted(rig)],
        None => Sentence::from("Pump"),
    };
    heading.push(say![
        ", control position \u{201c}",
        quoted(&p.dial),
        "\u{201d}"
    ]);
    let word = match p.trend.change {
        Change::MovedUp => "It holds more than at the start. Pressure rose by ",
        Change::MovedDown => "It holds less than at the start. Pressure changed by ",
        Change::DidNotMove => "It holds what it held, within 5 %. Pressure changed by ",
        Change::CannotTell => "Whether it holds less cannot be told. Pressure changed by ",
    };
    let mut facts = vec![say![
        "Compared at ",
        show.plain(Kind::Flow, p.trend.at, key("at_flow_m3_per_s")),
        "."
    ]];
    let since = time_axis(&p.trend);
    let mut advice = Vec::new();
    if let Some((first, last)) = p.supply_v {
        facts.push(say![
            "Supply voltage while spraying: ",
            show.plain(Kind::Voltage, first, key("first_v")),
            " in the first recording, ",
            show.plain(Kind::Voltage, last, key("last_v")),
            " in the last."
        ]);
        if p.trend.change == Change::MovedDown && last < WEAK_BATTERY_RATIO * first {
            advice.push((
                "Its voltage fell too: look at the battery first.",
                beside_advice(Advice::ChargeBattery).map(Caution::text),
            ));
        }
    }
    if p.trend.change == Change::MovedDown {
        advice.push((
            "Clean the inlet strainer, look for air on the suction side, then have the packings looked at.",
            beside_advice(Advice::CleanInletStrainer).map(Caution::text),
        ));
    }
    facts.extend(left_out(&p.trend, show, &key));
    PartView {
        heading,
        headline: headline(&p.trend, word, show, &key),
        facts,
        advice,
        drawn: drawn(&p.trend, show, Kind::Pressure, since.0, since.1),
        figure_title: "Pump health over time",
    }
}

/// Unit of the time axis in seconds and its title: months of a season, hours of one day.
fn time_axis(trend: &Trend) -> (f64, &'static str) {
    let longest_s = trend.points.iter().map(|p| p.x).fold(0.0, f64::max);
    if longest_s > 2.0 * MONTH_S {
        (MONTH_S, "Months since the first recording")
    } else if longest_s > 2.0 * DAY_S {
        (DAY_S, "Days since the first recording")
    } else {
        (HOUR_S, "Hours since the first recording")
    }
}

/// The answer with its interval, or what is missing.
fn headline(
    trend: &Trend,
    word: &'static str,
    show: Show,
    key: &dyn Fn(&str) -> String,
) -> Sentence {
    let n_used = trend.points.iter().filter(|p| p.left_out.is_none()).count();
    match &trend.total {
        None => say![
            "Not known yet: ",
            count(show, n_used, &key("n_on_line")),
            " of ",
            count(show, trend.points.len(), &key("n_recordings")),
            " recordings can be compared, ",
            format!("{FEWEST} at different times are needed.")
        ],
        Some(total) => {
            let i = total.interval_95;
            let half = 0.5 * (i.high - i.low);
            say![
                word,
                show.rounded(
                    Kind::Percent,
                    total.value - 1.0,
                    half,
                    key("total_change/value")
                ),
                " (95\u{a0}%: ",
                show.between(
                    Kind::Percent,
                    (i.low - 1.0, key("total_change/low_95")),
                    (i.high - 1.0, key("total_change/high_95"))
                ),
                "), over ",
                count(show, n_used, &key("n_on_line")),
                " of ",
                count(show, trend.points.len(), &key("n_recordings")),
                " recordings."
            ]
        }
    }
}

/// What is not on the line, counted by reason.
fn left_out(trend: &Trend, show: Show, key: &dyn Fn(&str) -> String) -> Option<Sentence> {
    let reasons = [
        (LeftOut::NoDate, "no_date", "without a date"),
        (
            LeftOut::OtherInstruments,
            "other_instruments",
            "with another meter constant, sensor or tap",
        ),
        (
            LeftOut::OtherTemperature,
            "other_temperature",
            "at another coating temperature without viscosity readings",
        ),
        (
            LeftOut::OtherPressures,
            "other_pressures",
            "at other pressures",
        ),
        (LeftOut::OtherFlows, "other_flows", "at other flows"),
    ];
    let mut out = Sentence::default();
    for (reason, member, words) in reasons {
        let n = trend
            .points
            .iter()
            .filter(|p| p.left_out == Some(reason))
            .count();
        if n > 0 {
            out.push(if out.is_empty() { "Left out: " } else { ", " });
            out.push(say![
                count(show, n, &key(&format!("left_out/{member}"))),
                " ",
                words
            ]);
        }
    }
    if out.is_empty() {
        return None;
    }
    out.push(".");
    Some(out)
}

/// The figure's numbers in the units shown.
fn drawn(trend: &Trend, show: Show, kind: Kind, x_unit: f64, x_title: &'static str) -> Drawn {
    let y = |si: f64| show.to_unit(kind, si);
    let k = coverage_factor_95(f64::INFINITY);
    let points = trend
        .points
        .iter()
        .filter(|p| p.start_unix_s.is_some())
        .map(|p| {
            let factor = (k * p.u_ratio).exp();
            (
                p.x / x_unit,
                y(p.value),
                y(p.value / factor),
                y(p.value * factor),
                p.left_out.is_none(),
            )
        })
        .collect();
    let ends = trend
        .points
        .iter()
        .filter(|p| p.left_out.is_none())
        .map(|p| p.x);
    let (low, high) = ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| {
        (l.min(x), h.max(x))
    });
    let line = trend.line.as_ref().map_or_else(Vec::new, |line| {
        (0..=40)
            .map(|i| {
                let x = low + (high - low) * f64::from(i) / 40.0;
                let at = line.at(x);
                let band = at.interval_95();
                (
                    x / x_unit,
                    y(at.value.exp()),
                    y(band.low.exp()),
                    y(band.high.exp()),
                )
            })
            .collect()
    });
    let at = match kind {
        Kind::Flow => show.plain(Kind::Pressure, trend.at, ""),
        _ => show.plain(Kind::Flow, trend.at, ""),
    };
    let what = if kind == Kind::Flow {
        "Flow"
    } else {
        "Pressure held"
    };
    Drawn {
        x_title,
        y_title: format!("{what} at {}, {}", at.to_text(), show.symbol(kind)),
        points,
        line,
        is_supply: kind != Kind::Flow,
    }
}
