//! Advice as sentences: what to do, and what not to do and why.

use super::super::number::Kind;
use super::super::piece::{Sentence, quoted, say};
use super::Subject;
use crate::analysis::verdict::{Advice, VerdictKind};

/// What to do.
pub(crate) fn advise(s: &Subject, advice: Advice) -> Sentence {
    match advice {
        Advice::Keep => match s.recommended() {
            Some(set) => say![
                "Keep ",
                s.tip(),
                " and this coating. Set ",
                set,
                " and leave it there."
            ],
            None => say![
                "Keep ",
                s.tip(),
                " and this coating at the pressure where the tails are gone."
            ],
        },
        Advice::LowerPressure => match s.recommended() {
            Some(set) => say![
                "Above ",
                set,
                "? Turn the pressure down to it: less overspray, less wear."
            ],
            None => Sentence::from(
                "Turn the pressure down to the lowest at which the fan is even: less overspray, less wear.",
            ),
        },
        Advice::RaisePressure => say![
            "Turn the pressure up in small steps until the tails are gone, never above ",
            ceiling(s),
            "."
        ],
        Advice::SmallerTip => say![
            "Fit a tip with a smaller orifice",
            of_your_tips(s, false),
            "."
        ],
        Advice::LargerTip => say![
            "Fit a tip with a larger orifice",
            of_your_tips(s, true),
            "."
        ],
        Advice::SmallerOrificeSameFan => {
            Sentence::from("Fit a smaller orifice with the same fan width.")
        }
        Advice::LargerOrificeSameFan => Sentence::from(
            "Fit the next larger orifice with the same fan width (the last two figures of the code up, \
             the first ones as they are).",
        ),
        Advice::WiderFan => {
            Sentence::from("Fit a wider fan with the same orifice: it spreads thinner.")
        }
        Advice::NarrowerFan => Sentence::from(
            "Fit a narrower fan with the same orifice: it needs less pressure to close its edges.",
        ),
        Advice::FasterPass => Sentence::from("Move the gun faster, at the same distance."),
        Advice::SecondPass => {
            Sentence::from("Lay a second, thin pass when the first has flashed off.")
        }
        Advice::ThinMaterial => thin(s),
        Advice::LessThinner => Sentence::from("Use less thinner next time."),
        Advice::WarmMaterial => warm(s),
        Advice::StrainMaterial => Sentence::from("Strain the coating before it goes in."),
        Advice::LargerPump => Sentence::from(
            "A pump that delivers more at this pressure would feed this tip, if hose, gun and fittings \
             are rated for it.",
        ),
        Advice::ChargeBattery => {
            Sentence::from("Swap, charge or rest the battery, then repeat one burst.")
        }
        Advice::CleanInletStrainer => Sentence::from(
            "Relieve the pressure, then clean the inlet strainer and look for air on the suction side.",
        ),
        Advice::CleanTip => Sentence::from(
            "Relieve the pressure and lock the trigger, then clean the tip and the gun filter.",
        ),
        Advice::ReplaceTip => say![
            "Relieve the pressure and lock the trigger, then replace ",
            s.tip(),
            "."
        ],
        Advice::ServicePump => Sentence::from("Have the pump serviced: packings and valves."),
        Advice::CollectMoreData => {
            Sentence::from("Record the trial named under \u{201c}Next trial\u{201d}.")
        }
        Advice::CheckSensor => Sentence::from("Check the pressure sensor, its cable and its port."),
        Advice::CheckUnits => Sentence::from(
            if s.verdict
                .because
                .iter()
                .any(|b| b == "pressure_beyond_sensor")
            {
                "Check the unit of the pressure readings (bar is needed, not psi or kPa) and full_scale_bar in session.toml."
            } else {
                "Check the unit of the pressure readings: it seems to change within this recording."
            },
        ),
        Advice::FixNotes => Sentence::from(
            "Complete the notes: the tip and a time for each burst, in the order they were sprayed.",
        ),
    }
}

/// What not to do, with the reason.
pub(crate) fn advise_against(s: &Subject, advice: Advice) -> Sentence {
    let kind = s.verdict.kind;
    let (what, reason) = match advice {
        Advice::RaisePressure => ("Do not turn it up", raise_reason(kind)),
        Advice::LowerPressure => ("Do not turn it down", "the tails come back"),
        Advice::Keep => ("Do not keep this setting", "it does not give an even fan"),
        Advice::SmallerTip => ("No smaller tip", smaller_reason(kind)),
        Advice::SmallerOrificeSameFan => {
            ("No smaller orifice at the same fan", smaller_reason(kind))
        }
        Advice::LargerTip => ("No larger tip", larger_reason(kind)),
        Advice::LargerOrificeSameFan => ("No larger orifice at the same fan", larger_reason(kind)),
        Advice::WiderFan => (
            "No wider fan",
            "the same paint spread wider needs even more pressure at its edges",
        ),
        Advice::NarrowerFan => (
            "No narrower fan",
            "it lays the same paint on a thinner stripe",
        ),
        Advice::FasterPass => ("Do not move faster", "the film gets thin, the tails stay"),
        Advice::SecondPass => (
            "No second pass on top",
            "it doubles the film, and it runs already",
        ),
        Advice::ThinMaterial => match kind {
            VerdictKind::ApplicationLimit => ("Do not thin", "a thinner coating runs sooner"),
            _ => ("Do not thin", "the coating is not the cause"),
        },
        Advice::LessThinner => (
            "Not less thinner",
            "it makes the coating harder to break up",
        ),
        Advice::WarmMaterial => ("Do not warm it", "the coating is not the cause"),
        Advice::StrainMaterial => ("Straining does not help here", "nothing is blocked"),
        Advice::LargerPump => ("No larger pump", pump_reason(kind)),
        Advice::ChargeBattery => ("The battery is not it", "its voltage did not fall"),
        Advice::CleanInletStrainer => (
            "Leave the inlet alone",
            "the pump holds the pressure that it held before",
        ),
        Advice::CleanTip => ("Cleaning the tip does not help", clean_reason(kind)),
        Advice::ReplaceTip => ("Do not replace the tip", clean_reason(kind)),
        Advice::ServicePump => ("No pump service for this", "the pump is not the cause"),
        Advice::CollectMoreData => ("No more trials needed", "the answer is clear"),
        Advice::CheckSensor => ("Leave the sensor", "its readings are sound"),
        Advice::CheckUnits => ("Leave the units", "they agree throughout"),
        Advice::FixNotes => ("Leave the notes", "they fit the bursts"),
    };
    say![what, ": ", reason, "."]
}

const fn raise_reason(kind: VerdictKind) -> &'static str {
    match kind {
        VerdictKind::HealthyWindow => "the fan is even already; more only makes overspray and wear",
        VerdictKind::AtomisationLimit => "it is at full pressure and the tails stay",
        VerdictKind::SupplyLimit => "the pump has no more to give",
        VerdictKind::RestrictionTip => "it packs the blockage and hides it",
        VerdictKind::RestrictionInlet | VerdictKind::WeakBattery => {
            "the pump cannot hold more; it only strains it"
        }
        VerdictKind::WornTip => "it wears faster, and the fan does not come back",
        VerdictKind::ApplicationLimit => "more comes out, and it runs already",
        VerdictKind::ColdMaterial | VerdictKind::InsufficientData | VerdictKind::Undetermined => {
            "the cause must be known first"
        }
    }
}

const fn smaller_reason(kind: VerdictKind) -> &'static str {
    match kind {
        VerdictKind::AtomisationLimit | VerdictKind::ColdMaterial => {
            "a thick coating breaks up even worse through a smaller hole"
        }
        VerdictKind::RestrictionTip => "it blocks sooner",
        _ => "the orifice is not what is too large",
    }
}

const fn larger_reason(kind: VerdictKind) -> &'static str {
    match kind {
        VerdictKind::SupplyLimit | VerdictKind::RestrictionInlet | VerdictKind::WeakBattery => {
            "it asks even more of a pump that cannot keep up"
        }
        VerdictKind::WornTip => "the worn tip lets too much through already",
        VerdictKind::ApplicationLimit => "more goes on, and it runs already",
        _ => "the orifice is not what is too small",
    }
}

const fn pump_reason(kind: VerdictKind) -> &'static str {
    match kind {
        VerdictKind::RestrictionTip => "what is blocked stays blocked",
        VerdictKind::WornTip => "it feeds the wear",
        _ => "this one holds the pressure that is needed",
    }
}

const fn clean_reason(kind: VerdictKind) -> &'static str {
    match kind {
        VerdictKind::WornTip => "what is worn away does not come back",
        VerdictKind::ColdMaterial => "the temperature explains the change",
        VerdictKind::HealthyWindow => "it is sound",
        _ => "it lets through what it did before",
    }
}

/// The lowest rating, or its name.
fn ceiling(s: &Subject) -> Sentence {
    s.rating().map_or_else(
        || Sentence::from("the lowest rating of pump, hose, gun and fittings"),
        |rating| say!["the lowest rating, ", rating],
    )
}

/// " (of your tips: 311, 313)": codes from the settings with a smaller or larger orifice, nearest first.
fn of_your_tips(s: &Subject, larger: bool) -> Sentence {
    let Some(own_m) = s.group.tip.as_ref().and_then(|t| t.orifice_diameter_m) else {
        return Sentence::default();
    };
    let mut others: Vec<(f64, &str)> = s
        .findings
        .settings
        .tips
        .iter()
        .filter_map(|t| t.orifice_diameter_m.map(|d| (d, t.code.as_str())))
        .filter(|(d, _)| {
            if larger {
                *d > own_m * 1.01
            } else {
                *d < own_m * 0.99
            }
        })
        .collect();
    others.sort_by(|a, b| (a.0 - own_m).abs().total_cmp(&(b.0 - own_m).abs()));
    others.dedup_by(|a, b| a.1 == b.1);
    if others.is_empty() {
        return Sentence::default();
    }
    let mut out = Sentence::from(" (of the tips listed: ");
    for (i, (_, code)) in others.iter().take(3).enumerate() {
        if i > 0 {
            out.push(", ");
        }
        out.push(quoted(code));
    }
    out.push(")");
    out
}

fn thin(s: &Subject) -> Sentence {
    let has = s.group.group.thinner_ratio;
    let mut out = Sentence::from("Thin in small steps, never beyond the label");
    let Some((index, most)) = s
        .material()
        .and_then(|(i, m)| Some((i, m.max_thinner_ratio?)))
    else {
        out.push("; the label says how far.");
        return out;
    };
    let most = s.show.plain(
        Kind::Percent,
        most,
        format!("/recording/materials/{index}/max_thinner_ratio"),
    );
    out.push(say![": it allows ", most, " by volume"]);
    if has > 0.0 {
        let has = s
            .show
            .plain(Kind::Percent, has, s.group_key("thinner_ratio"));
        out.push(say![", ", has, " is in."]);
    } else {
        out.push(", none is in.");
    }
    out
}

fn warm(s: &Subject) -> Sentence {
    let mut out = Sentence::from("Warm the coating within the label");
    if let Some((index, most_k)) = s
        .material()
        .and_then(|(i, m)| Some((i, m.max_temperature_k?)))
    {
        let most = s.show.plain(
            Kind::Temperature,
            most_k,
            format!("/recording/materials/{index}/max_temperature_k"),
        );
        out.push(say![", at most ", most]);
    }
    if let Some(k) = s.group.group.material_k {
        let now = s
            .show
            .plain(Kind::Temperature, k, s.group_key("material_k"));
        out.push(say!["; it was ", now]);
    }
    out.push(". A water bath or a warm room, never an open flame.");
    out
}
