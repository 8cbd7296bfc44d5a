//! What is shown: words and rounded numbers in the reader's units, without markup.
//!
//! Page, card and terminal are written from this value. Every number in it knows its place in
//! `result.json`. Decides nothing.

mod figures;
mod header;
mod method;
mod table;
mod tables;
mod verdict;

pub(crate) use figures::{ENERGY_CAPTION, FigureView};
pub(crate) use header::{
    Header, NO_RATING, Notice, implausible_flow, is_meter_unknown, mistyped_tips, no_verdict,
};
pub(crate) use method::MethodItem;
pub(crate) use table::{Align, Row, Table, numbers, words};
pub(crate) use verdict::{VerdictView, setting_name};

use super::figure::{FigureError, Source};
use super::number::Show;
use super::{Options, ReportError};
use crate::findings::Findings;
use crate::units::UnitChoice;

/// The whole report.
pub(crate) struct View {
    /// Head of the page.
    pub(crate) header: Header,
    /// What must be read first: simulated data, nominal meter, defects that spoil results.
    pub(crate) notices: Vec<Notice>,
    /// What to say where there is no verdict.
    pub(crate) no_verdict: &'static str,
    /// Verdicts, the main subject first.
    pub(crate) verdicts: Vec<VerdictView>,
    /// All settings at a glance, when there are several.
    pub(crate) overview: Option<Table>,
    /// Figures of the whole recording.
    pub(crate) figures: Vec<FigureView>,
    /// Tables.
    pub(crate) tables: Vec<Table>,
    /// How it was computed.
    pub(crate) method: Vec<MethodItem>,
}

impl View {
    /// Makes the view of findings.
    ///
    /// *Errors*: a figure that plotters could not draw.
    pub(crate) fn new(
        findings: &Findings,
        units: UnitChoice,
        options: &Options,
    ) -> Result<Self, ReportError> {
        let show = Show { units };
        let source = Source { findings, show };
        let drawn = |e: FigureError| ReportError::Figure { what: e.what };
        let verdicts = verdict::verdict_views(source, options).map_err(drawn)?;
        Ok(Self {
            header: header::header(findings, show),
            notices: header::notices(findings, show),
            no_verdict: no_verdict(findings),
            overview: tables::overview(findings, show),
            figures: figures::figures(source, options).map_err(drawn)?,
            tables: tables::tables(findings, show),
            method: method::method(findings, show),
            verdicts,
        })
    }
}
