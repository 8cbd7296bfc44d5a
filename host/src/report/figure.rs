//! Figures as SVG: one figure a file, drawn with plotters' SVG backend and nothing else.
//!
//! A figure is drawn wide for a page, narrow for a phone and where it helps flat for paper, from the same data; text keeps its
//! size in both. Colours come from [`palette`] only, so that a style sheet can turn them for a dark
//! screen. What a figure shows has been decided elsewhere.

mod axis;
mod canvas;
mod class_curves;
mod class_place;
mod curves;
mod energy;
pub(crate) mod label;
mod moved;
mod moved_days;
pub(crate) mod palette;
mod season;
mod stripes;
mod tails;
mod trace;
mod window;

pub(crate) use class_curves::{CurveLine, draw_class_curves};
pub(crate) use class_place::{Place, draw_class_place};
pub(crate) use curves::draw_curves;
pub(crate) use energy::{SupplyLine, draw_energy, draw_supply};
pub(crate) use moved::draw_moved;
pub(crate) use moved_days::{Days, draw_days};
pub(crate) use season::{Trend, draw_trend};
pub(crate) use stripes::draw_stripes;
pub(crate) use tails::draw_tails;
pub(crate) use trace::draw_trace;
pub(crate) use window::draw_window;

use super::number::Show;
use crate::findings::Findings;

/// How wide a figure is drawn, in CSS pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Width {
    /// For a page.
    Wide,
    /// For half a sheet of paper: flat, so that two rows find room below the words.
    Paper,
    /// For half a page.
    Half,
    /// For a phone of 375 px.
    Narrow,
}

impl Width {
    /// Pixels.
    pub(crate) const fn px(self) -> f64 {
        match self {
            Self::Wide => 880.0,
            Self::Half => 520.0,
            Self::Paper => 430.0,
            Self::Narrow => 343.0,
        }
    }

    /// True where labels must be short.
    pub(crate) const fn is_narrow(self) -> bool {
        matches!(self, Self::Narrow | Self::Paper)
    }

    /// True where height is scarce.
    pub(crate) const fn is_flat(self) -> bool {
        matches!(self, Self::Paper)
    }
}

/// What every figure is drawn from.
#[derive(Clone, Copy)]
pub(crate) struct Source<'a> {
    /// Everything found.
    pub(crate) findings: &'a Findings,
    /// The reader's units.
    pub(crate) show: Show,
}

/// A figure that could not be drawn.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{what}")]
pub(crate) struct FigureError {
    /// What plotters said.
    pub(crate) what: String,
}
