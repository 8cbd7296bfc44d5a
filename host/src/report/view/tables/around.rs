//! The host's clock, the air and timed catches, as one table.

use crate::analysis::dew_point::MARGIN_K;
use crate::findings::{Air, CatchCheck, Findings};
use crate::report::number::{Kind, Show};
use crate::report::piece::{Sentence, link, quoted, say};
use crate::report::view::table::{Row, Table, words};
use crate::report::wording::count;

/// One row a fact; empty without any.
pub(super) fn around(f: &Findings, show: Show) -> Table {
    let mut rows = Vec::new();
    if let Some(model) = &f.clock {
        rows.extend(clock(model, show));
    }
    if let Some(a) = &f.air {
        rows.extend(air(a, show));
    }
    let catches = f.catches.iter().enumerate();
    rows.extend(catches.map(|(i, c)| caught(c, i, show)));
    Table {
        id: "around",
        title: "Clock, air and catches",
        caption: Sentence::from("What was measured beside pressure and flow, and what it means."),
        columns: vec![words("What"), words("Value"), words("Means")],
        rows: rows
            .into_iter()
            .map(|cells| Row {
                id: String::new(),
                is_quiet: false,
                cells: cells.into(),
            })
            .collect(),
    }
}

fn clock(model: &crate::analysis::clock::ClockModel, show: Show) -> Vec<[Sentence; 3]> {
    let mut rows = Vec::new();
    if let Some(first) = model.segments.first() {
        rows.push([
            Sentence::from("Host's clock against the logger's"),
            say![
                "gains ",
                show.estimate(Kind::Percent, &first.drift, "/clock/drift_ratio")
            ],
            Sentence::from("Notes with a clock time are placed by this."),
        ]);
    }
    for (i, jump) in model.jumps.iter().enumerate() {
        rows.push([
            Sentence::from("The host's clock was put right"),
            show.estimate(
                Kind::Time,
                &jump.size_s,
                &format!("/clock/jumps/{i}/size_s"),
            ),
            say![
                "At logger time ",
                show.plain(
                    Kind::Time,
                    jump.between_s.low,
                    format!("/clock/jumps/{i}/from_s")
                ),
                "; notes before and after are placed each by its own clock."
            ],
        ]);
    }
    rows
}

fn air(a: &Air, show: Show) -> Vec<[Sentence; 3]> {
    vec![
        [
            Sentence::from("Air"),
            say![
                show.estimate(Kind::Temperature, &a.air_k, "/air/air_k"),
                ", ",
                show.estimate(Kind::Percent, &a.humidity_ratio, "/air/humidity_ratio"),
                " humidity"
            ],
            Sentence::default(),
        ],
        [
            Sentence::from("Dew point"),
            show.estimate(Kind::Temperature, &a.dew_point_k, "/air/dew_point_k"),
            say![
                "Coat no surface colder than ",
                show.plain(Kind::Temperature, a.least_surface_k, "/air/least_surface_k"),
                ": ",
                show.plain(
                    Kind::TemperatureDifference,
                    MARGIN_K,
                    "/rules/condensation_margin_k"
                ),
                " above the dew point and its uncertainty; the coating's data sheet may ask for more."
            ],
        ],
    ]
}

fn caught(c: &CatchCheck, i: usize, show: Show) -> [Sentence; 3] {
    let key = |member: &str| format!("/catches/{i}/{member}");
    let burst = say![
        "Catch of ",
        link(
            say![
                "burst ",
                count(show, c.burst_index + 1, key("burst_number"))
            ],
            format!("burst-{}", c.burst_index + 1)
        )
    ];
    match &c.metered_over_caught {
        Ok(ratio) => [
            burst,
            say![
                "meter shows ",
                show.estimate(Kind::Percent, ratio, &key("metered_over_caught_ratio")),
                " of what was caught"
            ],
            Sentence::from(if ratio.interval_95().contains(1.0) {
                "Meter and catch agree within their uncertainty."
            } else {
                "Meter and catch disagree: repeat the catch, then calibrate the meter."
            }),
        ],
        Err(missing) => [
            burst,
            Sentence::from("\u{2013}"),
            say!["No comparison: ", quoted(missing), "."],
        ],
    }
}
