//! A class in plain sentences: the answer, what was set aside and why, what must be known first.

use crate::analysis::class::{PrecisionRefusal, ScoreWord, Standing};
use crate::class_findings::{
    Aside, ClassFindings, ClassNotice, ClassSetting, ReferenceRefusal, ReferenceSource, Student,
};
use crate::recording::settings::Tap;
use crate::report::cautions::SHORT;
use crate::report::number::{Kind, NBSP, Show};
use crate::report::piece::{Sentence, quoted, say};
use crate::report::wording::count;

/// Tip, coating, thinner, tap.
pub(super) fn setting(show: Show, s: &ClassSetting) -> Sentence {
    let mut out = say!["Tip ", quoted(&s.tip), " \u{b7} ", quoted(&s.material)];
    if s.thinner_ratio > 0.0 {
        let thinner = show.plain(Kind::Percent, s.thinner_ratio, "/class/thinner_ratio");
        out.push(say![" \u{b7} ", thinner, " thinner"]);
    }
    out.push(match s.tap {
        Tap::PumpOutlet => " \u{b7} pressure taken at the pump outlet",
        Tap::GunInlet => " \u{b7} pressure taken at the gun inlet",
    });
    out
}

/// The answer in one line.
pub(super) fn headline(class: &ClassFindings, show: Show) -> Sentence {
    if class.reference.is_err() {
        return Sentence::from("No comparison: there is nothing to hold the class against");
    }
    let n_with_data = super::n_with_data(class);
    if n_with_data < 2 {
        return match n_with_data {
            0 => Sentence::from("No comparison: no student has a usable burst"),
            _ => Sentence::from("One student has data: a deviation, and nothing about a class"),
        };
    }
    let Some(agree) = super::n_agree(class) else {
        return say![
            count(show, n_with_data, "/class/n_with_data"),
            " students have data; deviations without scores"
        ];
    };
    say![
        count(show, agree, "/class/n_agree"),
        " of ",
        count(show, n_with_data, "/class/n_with_data"),
        " students agree with the reference"
    ]
}

/// Who stands out, one line each, the furthest first.
pub(super) fn standing_out(class: &ClassFindings, show: Show) -> Vec<Sentence> {
    let mut out: Vec<(f64, Sentence)> = class
        .students
        .iter()
        .enumerate()
        .filter_map(|(i, s)| {
            let result = s.result.as_ref().filter(|r| super::is_out(r))?;
            let z = result.z?;
            let line = say![
                quoted(&s.label),
                ": ",
                deviation(show, i, s)?,
                " flow at the same pressure (z ",
                show.bare_fixed(Kind::Plain, z, 1, format!("/students/{i}/z")),
                ", ",
                score_word(result.word),
                ")"
            ];
            Some((z.abs(), line))
        })
        .collect();
    out.sort_by(|a, b| b.0.total_cmp(&a.0));
    out.into_iter().map(|(_, line)| line).collect()
}

/// "+9 %" with its interval where one is known.
pub(super) fn deviation(show: Show, i: usize, s: &Student) -> Option<Sentence> {
    let result = s.result.as_ref()?;
    let ratio = result.deviation?.exp_m1();
    let expanded = super::interval_of(result).map(|i| 0.5 * (i.high - i.low));
    let value = show.deviation(ratio, expanded, format!("/students/{i}/deviation_ratio"));
    Some(say![value.with_unit("%")])
}

/// What to look into where a curve is off; causes, not a verdict.
pub(super) fn look_into() -> [Sentence; 3] {
    [
        Sentence::from(
            "More flow than the reference: a worn tip or a larger one, coating that was warmer or thinned, a \
             meter constant that belongs to another meter.",
        ),
        Sentence::from(
            "Less flow: a restriction at tip or gun filter, a smaller tip, colder coating, the meter constant.",
        ),
        Sentence::from(
            "One curve does not tell which: swap tips between two benches and spray again. What moves with the \
             tip is the tip; what stays is the bench.",
        ),
    ]
}

/// The word for a score.
pub(super) const fn score_word(word: Option<ScoreWord>) -> &'static str {
    match word {
        Some(ScoreWord::Satisfactory) => "satisfactory",
        Some(ScoreWord::Questionable) => "questionable",
        Some(ScoreWord::Unsatisfactory) => "unsatisfactory",
        None => "no score",
    }
}

/// What a student's data carry.
pub(super) const fn standing(standing: Standing) -> &'static str {
    match standing {
        Standing::Complete => "",
        Standing::OneBurst => "one burst: no scatter of their own",
        Standing::NoData => "no data",
    }
}

/// What the class is held against.
pub(super) fn reference(class: &ClassFindings, show: Show) -> Sentence {
    let refusal = match &class.reference {
        Ok(r) => {
            let u = show.plain(Kind::Percent, r.u_ratio, "/reference/u_ratio");
            return match &r.source {
                ReferenceSource::Recording { name } => say![
                    "Reference: recording ",
                    quoted(name),
                    ". Standard uncertainty of its flow: ",
                    u,
                    "."
                ],
                ReferenceSource::Consensus { ln_flow } => say![
                    "Reference: robust mean of ",
                    count(show, ln_flow.n, "/reference/n_curves"),
                    " curves of the class. Standard uncertainty of its flow: ",
                    u,
                    ". An error that all share, such as one wrong meter, does not show in it."
                ],
            };
        }
        Err(refusal) => refusal,
    };
    match refusal {
        ReferenceRefusal::TooFewCurves { n_curves, needed } => say![
            count(show, *n_curves, "/reference_refusal/n_curves"),
            if *n_curves == 1 {
                " student has a curve; a reference from the class needs "
            } else {
                " students have a curve; a reference from the class needs "
            },
            count(show, *needed, "/reference_refusal/n_needed"),
            ". Record more students at three pressures each, or name a recording: reference = \"FOLDER\" in \
             class.toml."
        ],
        ReferenceRefusal::Unreadable { name, message } => say![
            "The reference ",
            quoted(name),
            " cannot be used: ",
            quoted(message),
            "."
        ],
        ReferenceRefusal::NoCurve { name } => say![
            "The reference ",
            quoted(name),
            " has no nozzle curve of the class's tip and coating: record it at three pressures with both."
        ],
        ReferenceRefusal::Unscored(error) => say![quoted(&error.to_string()), "."],
        ReferenceRefusal::NoSetting => Sentence::from(
            "No recording tells what was sprayed. Write tip and coating with the first note, then spray at \
             three pressures or more.",
        ),
    }
}

/// What z is measured in, or why there is no z.
pub(super) fn scale(class: &ClassFindings, show: Show) -> Sentence {
    match &class.scale {
        Some(s) => {
            let sd = show.plain(Kind::Percent, s.sd_ratio, "/scale/sd_ratio");
            if s.is_stated {
                say![
                    "z counts standard deviations of ",
                    sd,
                    ", as the teacher stated."
                ]
            } else {
                say![
                    "z counts standard deviations of ",
                    sd,
                    ", the robust scatter of this class's means: it says who differs from the class, not \
                     whether the class is good."
                ]
            }
        }
        None if class.reference.is_err() => Sentence::default(),
        None => Sentence::from(
            "No z: fewer than five students have data, and their scatter is no scale. State one in class.toml: \
             expected_sd_pct.",
        ),
    }
}

/// Why the class has no repeatability.
pub(super) const fn precision_refusal(refusal: PrecisionRefusal) -> &'static str {
    match refusal {
        PrecisionRefusal::OneStudent => {
            "Repeatability and reproducibility need two students with data and a reference."
        }
        PrecisionRefusal::NoReplicates => {
            "Repeatability needs two bursts or more of at least one student."
        }
        PrecisionRefusal::TooMany => {
            "More bursts than are analysed at once: score the class in two parts."
        }
        PrecisionRefusal::NotFitted => {
            "Repeatability and reproducibility could not be told apart from these numbers: add bursts."
        }
    }
}

/// Why a recording is set aside, and what to do; `key` points to its `aside` in the JSON.
pub(super) fn aside(show: Show, aside: &Aside, key: &str) -> Sentence {
    match aside {
        Aside::Unreadable { message } => say![
            "It cannot be read: ",
            quoted(message),
            ". Check the folder's name in class.toml."
        ],
        Aside::NoBursts => Sentence::from(
            "No burst could be given to a tip and a coating. Write both with the first note, spray again.",
        ),
        Aside::OtherSetting { found } => say![
            "It was sprayed with another setting (",
            quoted(found),
            "), which is another curve. Record the class's tip and coating."
        ],
        Aside::OtherTap => Sentence::from(
            "Its pressure was taken at the other end of the hose: the hose's loss lies between. Move the sensor, \
             or correct tap in session.toml if it is written wrong.",
        ),
        Aside::NoneUsable { n_bursts } => say![
            "None of its ",
            count(show, *n_bursts, format!("{key}/n_bursts")),
            " bursts is usable: its own report says why of each."
        ],
        Aside::OffScale { flow_ratio } => say![
            "Its flow is ",
            show.plain(Kind::Plain, *flow_ratio, format!("{key}/flow_ratio")),
            " times the reference at the same pressure. No tip of this size does that: check units, meter \
             constant and tip, then run this again."
        ],
    }
}

/// A notice with its heading; `key` points to it in the JSON.
pub(super) fn notice(show: Show, n: &ClassNotice, key: &str) -> (&'static str, Sentence) {
    let at = |member: &str| format!("{key}/{member}");
    match n {
        ClassNotice::Simulated => (
            "Simulated data",
            Sentence::from(
                "A simulated rig made recordings of this class. No paint was sprayed; names are invented.",
            ),
        ),
        ClassNotice::OneStudent => (
            "One student",
            Sentence::from(
                "Fewer than two students have data: nothing is said about repeatability between students.",
            ),
        ),
        ClassNotice::Rigs { names } => (
            "Different rigs",
            say![
                "The recordings name ",
                quoted(&names.join(", ")),
                ". What differs between rigs counts as reproducibility, not as a student's doing."
            ],
        ),
        ClassNotice::NominalMeters { labels } => (
            "Meters not calibrated",
            say![
                quoted(&labels.join(", ")),
                ": flow rests on the meter maker's nominal constant. A deviation may be the meter's."
            ],
        ),
        ClassNotice::Meters { n_constants } => (
            "Different meters",
            say![
                count(show, *n_constants, at("n_constants")),
                " meter constants are in use. Their differences count as reproducibility."
            ],
        ),
        ClassNotice::Temperatures { low_k, high_k } => (
            "Different temperatures",
            say![
                "The coating was between ",
                show.fixed(Kind::Temperature, *low_k, 0, at("low_k")),
                " and ",
                show.fixed(Kind::Temperature, *high_k, 0, at("high_k")),
                ". Warmer coating flows more: part of a deviation may be the day's."
            ],
        ),
        ClassNotice::SameNames { names } => (
            "Same names",
            say![
                quoted(&names.join(", ")),
                ": borne by several students, told apart by their number."
            ],
        ),
    }
}

/// The class in a few lines for a terminal.
pub(super) fn summary(class: &ClassFindings, show: Show) -> String {
    let mut lines: Vec<String> = Vec::new();
    let title = class.title.as_deref().unwrap_or("Class");
    lines.push(crate::report::piece::printable(title));
    if let Some(s) = &class.setting {
        lines.push(setting(show, s).to_text());
    }
    for n in &class.notices {
        let (heading, text) = notice(show, n, "");
        lines.push(format!("{heading}. {}", text.to_text()));
    }
    lines.push(String::new());
    lines.push(format!("{}.", headline(class, show).to_text()));
    lines.extend(
        standing_out(class, show)
            .iter()
            .map(|l| format!("  {}", l.to_text())),
    );
    lines.push(reference(class, show).to_text());
    match &class.precision {
        Ok(p) => lines.push(format!(
            "Repeatability {}, reproducibility {} (standard deviations of flow).",
            show.plain(Kind::Percent, p.repeatability_sd.value, "")
                .to_text(),
            show.plain(Kind::Percent, p.reproducibility_sd.value, "")
                .to_text()
        )),
        Err(refusal) => lines.push(precision_refusal(*refusal).to_owned()),
    }
    for s in &class.students {
        for r in &s.recordings {
            if let Err(a) = &r.trial {
                let label = crate::report::piece::printable(&s.label);
                lines.push(format!("  {label}: {}", aside(show, a, "").to_text()));
            }
        }
    }
    lines.push(String::new());
    lines.push(SHORT.to_owned());
    lines.retain(|l| !l.trim().is_empty() || l.is_empty());
    lines.join("\n").replace(NBSP, " ") + "\n"
}
