//! A cordless check in plain sentences: the answer, what is missing, the comparison.

use crate::analysis::answer::{Answer, Change};
use crate::analysis::energy::battery::ReachesLimit;
use crate::energy_findings::{
    BatteryFindings, ChargeFinding, CompareRefusal, Compared, ComparedWhat, EnduranceFindings,
    Missing, SettingEnergy,
};
use crate::estimate::Estimate;
use crate::estimate::bracketed::Bracketed;
use crate::report::cautions::{Caution, SHORT};
use crate::report::number::{Kind, NBSP, Show};
use crate::report::piece::{Sentence, quoted, say};

/// Position of the largest tip that is held with certainty, among a battery's tips.
pub(super) fn largest_held(b: &BatteryFindings) -> Option<usize> {
    let is_held = |t: &crate::energy_findings::TipHeld| {
        t.held.as_ref().is_ok_and(|h| h.answer == Answer::Yes)
    };
    b.tips.iter().rposition(is_held)
}

/// Charge drawn as a share of the nominal one.
pub(super) fn drawn_ratio(b: &BatteryFindings) -> Option<f64> {
    let (drawn, _) = b.energy.drawn?;
    b.nominal_a_s.filter(|q| *q > 0.0).map(|q| drawn / q)
}

/// `low to high unit`.
pub(super) fn interval(show: Show, kind: Kind, b: &Bracketed, key: &str) -> Sentence {
    show.between(
        kind,
        (b.interval_95.low, format!("{key}/low_95")),
        (b.interval_95.high, format!("{key}/high_95")),
    )
}

/// "tip 313 with cabin enamel".
pub(super) fn setting(tip: &str, material: &str) -> Sentence {
    match material {
        "" => say!["tip ", quoted(tip)],
        _ => say!["tip ", quoted(tip), " with ", quoted(material)],
    }
}

/// The answer in one line.
pub(super) fn headline(b: &BatteryFindings, key: &str, show: Show) -> Sentence {
    let tip = largest_held(b).and_then(|i| b.tips.get(i));
    let time = main_time(b).map(|(i, t)| {
        interval(
            show,
            Kind::Minutes,
            &t,
            &format!("{key}/settings/{i}/run_time_s"),
        )
    });
    let mut line = match (tip, time) {
        (Some(tip), Some(time)) => say![
            "Holds tips up to ",
            quoted(&tip.tip),
            "; one charge runs ",
            time
        ],
        (Some(tip), None) => say![
            "Holds tips up to ",
            quoted(&tip.tip),
            "; how long a charge runs is not known"
        ],
        (None, Some(time)) => say!["One charge runs ", time, "; no tip is sure to be held"],
        (None, None) => Sentence::from("Not known: a measurement is missing"),
    };
    line.push(tails_before_flat(b, key, show));
    line
}

/// A run time is no painting time where the fan shows tails long before the battery is flat.
fn tails_before_flat(b: &BatteryFindings, key: &str, show: Show) -> Sentence {
    let Some(charge) = &b.charge else {
        return Sentence::default();
    };
    let tip = setting(&charge.tip, &charge.material);
    match charge.reaches {
        Some((_, ReachesLimit::At { used_ratio, .. })) => {
            let at = format!("{key}/charge/tail_free_used_ratio");
            let share = show.fixed(Kind::Percent, used_ratio, 0, at);
            say!["; ", tip, ": tails from ", share, " of the charge on"]
        }
        Some((_, ReachesLimit::Already { .. })) => say!["; ", tip, ": tails from the start"],
        _ => Sentence::default(),
    }
}

/// Run time of the main setting, with its place among the settings.
fn main_time(b: &BatteryFindings) -> Option<(usize, Bracketed)> {
    let i = b.main?;
    let found = b.run_times.iter().find(|r| r.setting_index == i)?;
    Some((i, found.run_time.as_ref().ok()?.elapsed_s))
}

/// What stands below the headline: coating, setting, duty.
pub(super) fn basis(found: &EnduranceFindings, b: &BatteryFindings, show: Show) -> Vec<Sentence> {
    let mut out = Vec::new();
    if let Some(material) = &b.material {
        out.push(say![
            "Tips are judged with ",
            quoted(material),
            ": held means that the pressure at full control stays above the lowest tail-free one."
        ]);
    }
    let main = b.main.and_then(|i| b.energy.settings.get(i));
    if let Some(s) = main.filter(|_| main_time(b).is_some()) {
        out.push(duty(found, b, s, show));
    }
    out
}

fn duty(found: &EnduranceFindings, b: &BatteryFindings, s: &SettingEnergy, show: Show) -> Sentence {
    let name = setting(&s.tip, &s.material);
    if b.energy.stalled_w.is_none() {
        return say![
            "Run time: ",
            name,
            " at full control with the trigger open all the time; what the pump draws in pauses was not seen."
        ];
    }
    say![
        "Run time: ",
        name,
        " at full control, the trigger open ",
        show.plain(Kind::Percent, found.spraying_ratio, "/spraying_ratio"),
        " of the time. From the charge printed on the battery, of which a pump uses eight to ten tenths (common \
         practice, no source); an old or cold battery gives less."
    ]
}

/// Each missing measurement: what, what rests on it, what to do.
pub(super) const fn missing(m: Missing) -> &'static str {
    match m {
        Missing::Voltage => {
            "Supply voltage was not logged. Without it there is no electrical power, efficiency or run time. \
             Connect the logger's voltage input to the battery (column supply_v of samples.csv)."
        }
        Missing::Current => {
            "Supply current was not logged. Without it there is no charge, efficiency or run time. Put the \
             current sensor into the battery lead (column supply_a)."
        }
        Missing::Bursts => {
            "No burst has voltage, current, pressure and flow together, with a tip in its note. Spray pulls of \
             five seconds or longer and note the tip."
        }
        Missing::Battery => {
            "The session file names no battery. Without its charge there is no run time. Write battery_v and \
             battery_ah, as printed on it, under [limits] in session.toml."
        }
        Missing::Replicates => {
            "Every setting has one burst. Without a second there is no scatter and no interval. Spray each \
             setting twice or more."
        }
        Missing::ChargeRange => {
            "Too little of the charge was drawn, or too few pulls at full control with one tip: how sag changes \
             as the battery empties is not known. Go on with one tip at full control for a quarter of the charge."
        }
        Missing::Supply => {
            "No burst has a note of its control position: there is no supply curve. Note the position, full \
             control included."
        }
    }
}

/// Sag and pressure against charge, as sentences.
pub(super) fn charge(c: &ChargeFinding, key: &str, show: Show) -> Vec<Sentence> {
    let at = |m: &str| format!("{key}/charge/{m}");
    let share = |value: f64, m: &str| show.fixed(Kind::Percent, value, 0, at(m));
    let sag = |e: &Estimate, m: &str| show.estimate(Kind::Percent, e, &at(m));
    let mut out = vec![say![
        "Sag at full control, ",
        setting(&c.tip, &c.material),
        ": ",
        sag(&c.sag.0, "sag_first_ratio"),
        " after ",
        share(c.range.low, "used_ratio/low"),
        " of the charge, ",
        sag(&c.sag.1, "sag_last_ratio"),
        " after ",
        share(c.range.high, "used_ratio/high"),
        ". ",
        match c.sag_change {
            Change::MovedUp => "It grows as the battery empties.",
            Change::MovedDown =>
                "It shrinks as the battery empties: look for warming coating or a blocked tip.",
            Change::DidNotMove => "It does not change by anything that matters.",
            Change::CannotTell => "Whether it changes cannot be told from these pulls.",
        }
    ]];
    if let Some((pa, limit)) = c.reaches {
        let least = show.setting(pa, None, at("tail_free_pa"));
        out.push(match limit {
            ReachesLimit::At {
                used_ratio,
                interval_95,
            } => say![
                "The pressure held falls to the lowest tail-free one (",
                least,
                ") after ",
                share(used_ratio, "tail_free_used_ratio"),
                " of the charge (",
                show.between(
                    Kind::Percent,
                    (interval_95.low, at("tail_free_used_low_95_ratio")),
                    (interval_95.high, at("tail_free_used_high_95_ratio"))
                ),
                "): from there on the fan shows tails before the battery is flat."
            ],
            ReachesLimit::NotWithin { used_ratio } => say![
                "The pressure held stays above the lowest tail-free one (",
                least,
                ") as far as it was measured: ",
                share(used_ratio, "tail_free_used_ratio"),
                " of the charge."
            ],
            ReachesLimit::Already { .. } => say![
                "The pressure held lies below the lowest tail-free one (",
                least,
                ") from the start."
            ],
            ReachesLimit::CannotTell => say![
                "When the pressure held falls below the lowest tail-free one (",
                least,
                ") cannot be told from these pulls."
            ],
        });
    }
    out
}

/// One line of the comparison.
pub(super) fn compared(i: usize, line: &Compared, show: Show) -> Sentence {
    let at = |m: &str| format!("/comparison/lines/{i}/{m}");
    let (name, margin) = match line.what {
        ComparedWhat::Pressure => ("pressure held at full control", "pressure"),
        ComparedWhat::Resistance => ("resistance", "resistance"),
        ComparedWhat::RunTime => ("run time", "run time"),
    };
    let percent = show.fixed(Kind::Percent, line.margin_ratio, 0, at("margin_ratio"));
    let word = match line.change {
        Change::MovedUp => "higher with the second battery",
        Change::MovedDown => "lower with the second battery",
        Change::DidNotMove => "the same with both",
        Change::CannotTell => "cannot be told apart",
    };
    let mut out = say![
        crate::report::wording::capitalised(name),
        ": ",
        word,
        "; second over first ",
        show.fixed(
            Kind::Percent,
            line.ratio.interval_95.low,
            0,
            at("ratio/low_95")
        ),
        " to ",
        show.fixed(
            Kind::Percent,
            line.ratio.interval_95.high,
            0,
            at("ratio/high_95")
        ),
        "."
    ];
    if line.change == Change::DidNotMove {
        out.push(say![
            " Less than ",
            percent,
            " of ",
            margin,
            " counts as the same."
        ]);
    }
    out
}

/// Why two batteries are not compared.
pub(super) fn compare_refusal(refusal: &CompareRefusal) -> Sentence {
    match refusal {
        CompareRefusal::Rigs { first, other } => say![
            "Not compared: the batteries drove different rigs (",
            quoted(first),
            " and ",
            quoted(other),
            "). What differs may be the pump. Record both on one pump."
        ],
        CompareRefusal::NoCommonSetting => Sentence::from(
            "Not compared: no tip and coating was sprayed twice at full control with both, with voltage and \
             current logged. Record the same tip with both.",
        ),
        CompareRefusal::NothingInCommon => Sentence::from(
            "Not compared: no number is known of both batteries. See what is missing.",
        ),
    }
}

/// The check in a few lines for a terminal.
pub(super) fn summary(found: &EnduranceFindings, show: Show) -> String {
    let mut lines: Vec<String> = Vec::new();
    let batteries = std::iter::once(&found.first).chain(&found.other);
    for (i, b) in batteries.enumerate() {
        let key = format!("/batteries/{i}");
        lines.push(crate::report::piece::printable(&b.recordings.join(", ")));
        if b.is_simulated {
            lines.push("Simulated data: no paint was sprayed.".to_owned());
        }
        lines.push(format!("  {}.", headline(b, &key, show).to_text()));
        lines.extend(
            basis(found, b, show)
                .iter()
                .map(|l| format!("  {}", l.to_text())),
        );
        if let Some(c) = &b.charge {
            lines.extend(
                charge(c, &key, show)
                    .iter()
                    .map(|l| format!("  {}", l.to_text())),
            );
        }
        lines.extend(
            b.energy
                .missing
                .iter()
                .map(|m| format!("  Missing. {}", missing(*m))),
        );
        lines.push(String::new());
    }
    match &found.comparison {
        Some(Ok((_, _, list))) => {
            lines.extend(
                list.iter()
                    .enumerate()
                    .map(|(i, l)| compared(i, l, show).to_text()),
            );
            lines.push(String::new());
        }
        Some(Err(refusal)) => {
            lines.push(compare_refusal(refusal).to_text());
            lines.push(String::new());
        }
        None => {}
    }
    lines.push(format!("Caution. {}", Caution::Battery.text()));
    lines.push(SHORT.to_owned());
    lines.join("\n").replace(NBSP, " ") + "\n"
}
