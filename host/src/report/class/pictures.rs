//! The figures of a class, each in its sizes, with caption and words for those who cannot see it.

use crate::class_findings::{ClassFindings, Student};
use crate::report::ReportError;
use crate::report::figure::{
    CurveLine, FigureError, Place, Width, draw_class_curves, draw_class_place,
};
use crate::report::number::{Kind, Show, format_fixed};
use crate::report::piece::Sentence;
use crate::report::view::FigureView;

fn both(
    (id, title, caption, description): (&str, &'static str, Sentence, String),
    draw: impl Fn(Width) -> Result<Option<String>, FigureError>,
) -> Result<Option<FigureView>, ReportError> {
    let drawn = |e: FigureError| ReportError::Figure { what: e.what };
    let (Some(wide), Some(narrow)) = (
        draw(Width::Wide).map_err(drawn)?,
        draw(Width::Narrow).map_err(drawn)?,
    ) else {
        return Ok(None);
    };
    Ok(Some(FigureView {
        id: id.to_owned(),
        file: format!("{id}.svg"),
        title,
        caption,
        description,
        wide,
        narrow,
        paper: None,
    }))
}

/// Where each student stands; `None` without a reference or a burst.
pub(super) fn places(class: &ClassFindings) -> Result<Option<FigureView>, ReportError> {
    if class.reference.is_err() {
        return Ok(None);
    }
    let places: Vec<Place> = class.students.iter().map(place).collect();
    let scale = class.scale.map(|s| s.sd_ratio);
    let bands = if scale.is_some() {
        " Inner shade: within two standard deviations of the scale, satisfactory; outer: up to three, \
         questionable."
    } else {
        ""
    };
    let words = (
        "places",
        "Where each student stands",
        Sentence::from(format!(
            "Small dots: bursts. Large mark with bar: mean and its 95 % interval; a diamond stands out. Heavy \
             line: the reference.{bands}"
        )),
        format!(
            "Deviation from the reference of {} students, one row each. The numbers stand in the table of \
             students.",
            class.students.len()
        ),
    );
    both(words, |w| draw_class_place(&places, scale, w))
}

fn place(s: &Student) -> Place {
    let result = s.result.as_ref();
    let trials = s.recordings.iter().filter_map(|r| r.trial.as_ref().ok());
    let bursts: Vec<f64> = trials
        .flat_map(|t| t.points.iter().zip(&t.reference_m3_per_s))
        .map(|(p, q)| super::deviation(p.flow_m3_per_s.value, *q))
        .collect();
    Place {
        label: s.label.clone(),
        remark: match result.and_then(|r| r.z) {
            _ if bursts.is_empty() => "no data".to_owned(),
            Some(z) => format!("z {}", format_fixed(z, 1)),
            None => String::new(),
        },
        bursts,
        mean: result.and_then(|r| r.deviation).map(f64::exp_m1),
        interval_95: result.and_then(super::interval_of),
        is_out: result.is_some_and(super::is_out),
    }
}

/// Every curve against the reference; named are those that stand out.
pub(super) fn curves(class: &ClassFindings, show: Show) -> Result<Option<FigureView>, ReportError> {
    let lines: Vec<CurveLine> = class
        .students
        .iter()
        .flat_map(|s| lines_of(s, false))
        .collect();
    let words = (
        "curves",
        "What each student's tip passed",
        Sentence::from(
            "Heavy line with band: the reference, and where one more burst is expected. Thin grey: students who \
             agree. With marks and name: students who stand out.",
        ),
        format!(
            "Flow in {} against spraying pressure for {} students and the reference. The numbers stand in the \
             table of students.",
            show.symbol(Kind::Flow),
            class.students.len()
        ),
    );
    let reference = class.reference.as_ref().ok().map(|r| &r.curve);
    both(words, |w| draw_class_curves(show, reference, &lines, w))
}

/// One student's points and curve against the reference.
pub(super) fn own(
    class: &ClassFindings,
    show: Show,
    s: &Student,
) -> Result<Option<FigureView>, ReportError> {
    let lines: Vec<CurveLine> = lines_of(s, true);
    let words = (
        "own-curve",
        "Your curve",
        Sentence::from(
            "Marks: your bursts, bars of 95 % from noise. Line through them: the curve fitted to them. Line with \
             band: the reference, and where one more burst is expected.",
        ),
        format!(
            "Flow in {} against spraying pressure: the student's bursts and the reference. The numbers stand in \
             the table of bursts.",
            show.symbol(Kind::Flow)
        ),
    );
    let reference = class.reference.as_ref().ok().map(|r| &r.curve);
    both(words, |w| draw_class_curves(show, reference, &lines, w))
}

fn lines_of(s: &Student, is_own: bool) -> Vec<CurveLine<'_>> {
    let is_named = is_own || s.result.as_ref().is_some_and(super::is_out);
    s.recordings
        .iter()
        .filter_map(|r| r.trial.as_ref().ok())
        .map(|t| CurveLine {
            label: if is_own {
                "you".to_owned()
            } else {
                s.label.clone()
            },
            curve: t.curve.as_ref().ok(),
            points: &t.points,
            is_named,
        })
        .collect()
}
