//! The box at a glance: one line a tip, columns set under each other.

use super::Planned;
use super::words::{answer_word, held_words, need_words, orifice_words};
use crate::pipeline::plan_box::TipPlan;
use crate::report::number::Show;
use crate::report::piece::printable;

const NONE: &str = "\u{2013}";

/// Head and rows.
pub(super) fn table(planned: &Planned, show: Show) -> Vec<String> {
    let mut rows = vec![
        [
            "Tip",
            "Orifice",
            "Curve",
            "Enough?",
            "The rig holds",
            "Tails gone",
            "Set",
        ]
        .map(str::to_owned),
    ];
    for tip in &planned.plan.tips {
        rows.push(row(tip, planned.plan.rated_pa, show));
    }
    align(&rows)
}

fn row(tip: &TipPlan, rated_pa: Option<f64>, show: Show) -> [String; 7] {
    let orifice = tip
        .tip
        .orifice_diameter_m
        .map_or(NONE.to_owned(), |m| orifice_words(show, m));
    let code = printable(&tip.tip.code);
    let from = match (&tip.measured, &tip.outlook) {
        (Some(_), _) => "measured",
        (None, Ok(_)) => "predicted",
        (None, Err(_)) => NONE,
    };
    match &tip.outlook {
        Err(_) => [
            code,
            orifice,
            from.to_owned(),
            "not known".to_owned(),
            NONE.to_owned(),
            NONE.to_owned(),
            NONE.to_owned(),
        ],
        Ok(o) => [
            code,
            orifice,
            from.to_owned(),
            answer_word(o).to_owned(),
            held_words(o, show),
            need_words(&o.tail_free, show).unwrap_or_else(|| NONE.to_owned()),
            o.set_pa.map_or(NONE.to_owned(), |pa| {
                let cap = rated_pa.unwrap_or(f64::INFINITY).min(o.held.high_pa);
                show.setting(pa, Some(cap), "").to_text()
            }),
        ],
    }
}

/// Columns under each other, two spaces between them.
pub(super) fn align<const N: usize>(rows: &[[String; N]]) -> Vec<String> {
    let width = |i: usize| rows.iter().map(|r| r[i].chars().count()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..N).map(width).collect();
    rows.iter()
        .map(|row| {
            let cells = row.iter().zip(&widths).map(|(cell, w)| {
                let room = w.saturating_sub(cell.chars().count());
                format!("{cell}{}", " ".repeat(room))
            });
            cells.collect::<Vec<_>>().join("  ").trim_end().to_owned()
        })
        .collect()
}
