//! Table of bursts.

use super::nothing;
use crate::estimate::Estimate;
use crate::findings::{BurstFinding, Findings};
use crate::report::number::{Kind, Show};
use crate::report::piece::{Piece, Sentence, quoted, say};
use crate::report::view::table::{Row, Table, numbers, words};
use crate::report::wording::{exclusion, tail_grade};

/// One row a burst.
pub(super) fn bursts(f: &Findings, show: Show) -> Table {
    let pressure = show.symbol(Kind::Pressure);
    Table {
        id: "bursts",
        title: "Bursts",
        caption: Sentence::from(
            "One pull of the trigger a row. \u{b1} is the 95 % half interval from noise alone, for comparing bursts; \
             calibration shifts them all alike and is in the table of settings. Sag: share of the stalled pressure \
             that is lost while spraying.",
        ),
        columns: vec![
            numbers("Burst", ""),
            numbers("At", "s"),
            words("Tip, coating"),
            words("Control"),
            numbers("Stalled", pressure),
            numbers("Spraying", pressure),
            numbers("\u{b1}", pressure),
            numbers("Flow", show.symbol(Kind::Flow)),
            numbers("\u{b1}", show.symbol(Kind::Flow)),
            numbers("Sag", "%"),
            numbers("Strokes", "Hz"),
            words("Tails"),
            words("Runs"),
            words("Used"),
        ],
        rows: f
            .bursts
            .iter()
            .enumerate()
            .map(|(i, b)| row(show, i, b))
            .collect(),
    }
}

fn row(show: Show, i: usize, b: &BurstFinding) -> Row {
    let key = |member: &str| format!("/bursts/{i}/{member}");
    #[allow(clippy::cast_precision_loss)]
    let number = (i + 1) as f64;
    let optional = |kind, value: Option<f64>, member: &str| {
        value.map_or_else(nothing, |v| show.bare(kind, v, key(member)).into())
    };
    let [p, u_p] = with_half(
        show,
        Kind::Pressure,
        b.steady.pressure_pa.as_ref(),
        &key("pressure_pa"),
    );
    let [q, u_q] = with_half(
        show,
        Kind::Flow,
        b.steady.flow_m3_per_s.as_ref(),
        &key("flow_m3_per_s"),
    );
    let q = if b.steady.flow_is_bound {
        say!["at most ", q]
    } else {
        q
    };
    Row {
        id: format!("burst-{}", i + 1),
        is_quiet: b.steady.exclusion.is_some(),
        cells: vec![
            show.fixed(Kind::Count, number, 0, key("number")),
            show.bare_fixed(Kind::Time, b.burst.start_s, 1, key("start_s"))
                .into(),
            setting(b),
            b.setting
                .dial
                .as_ref()
                .map_or_else(nothing, |d| quoted(d).into()),
            b.steady.stalled_pa.map_or_else(nothing, |pa| {
                let half = b.steady.pressure_pa.map_or(0.0, |e| e.expanded_95());
                show.bare_rounded(Kind::Pressure, pa, half, key("stalled_pa"))
                    .into()
            }),
            p,
            u_p,
            q,
            u_q,
            optional(Kind::Percent, b.steady.sag_ratio, "sag_ratio"),
            optional(Kind::Frequency, b.steady.stroke_rate_hz, "stroke_rate_hz"),
            b.tails
                .map_or_else(nothing, |t| Sentence::from(tail_grade(t))),
            Sentence::from(match b.runs {
                Some(true) => "yes",
                Some(false) => "no",
                None => "\u{2013}",
            }),
            match &b.steady.exclusion {
                None => Sentence::from("yes"),
                Some(e) => say!["no: ", exclusion(show, e, &key("exclusion"))],
            },
        ],
    }
}

fn setting(b: &BurstFinding) -> Sentence {
    match (&b.setting.tip, &b.setting.material) {
        (Some(tip), Some(material)) => say![quoted(tip), ", ", quoted(material)],
        (Some(tip), None) => quoted(tip).into(),
        (None, Some(material)) => quoted(material).into(),
        (None, None) => nothing(),
    }
}

/// Value and expanded uncertainty as two cells of one rounding.
pub(super) fn with_half(show: Show, kind: Kind, e: Option<&Estimate>, key: &str) -> [Sentence; 2] {
    let Some(e) = e else {
        return [nothing(), nothing()];
    };
    let half = e.expanded_95();
    let value = show.bare_rounded(kind, e.value, half, format!("{key}/value"));
    let cell = if half.is_finite() && half > 0.0 {
        show.bare_rounded(kind, half, half, format!("{key}/expanded_95"))
    } else {
        Piece::Text("\u{2013}".to_owned())
    };
    [value.into(), cell.into()]
}
