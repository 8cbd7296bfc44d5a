//! The colours of the figures, each with its counterpart on a dark screen.
//!
//! The five series colours were found by a search for the largest least distance (Oklab) between any two, as
//! seen with normal sight and with full protanopia, deuteranopia and tritanopia (matrices of Machado,
//! Oliveira and Fernandes 2009): 0.19 light, 0.17 dark; their lightness differs too, so that they stay apart
//! in grey. Words never take a series colour. Every use has a shape or a label beside it.

use plotters::style::RGBColor;

/// A colour on white and on a dark ground.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Ink {
    /// On white.
    pub(crate) light: (u8, u8, u8),
    /// On the dark ground.
    pub(crate) dark: (u8, u8, u8),
}

impl Ink {
    const fn new(light: u32, dark: u32) -> Self {
        Self {
            light: split(light),
            dark: split(dark),
        }
    }

    /// As plotters draws it.
    pub(crate) const fn colour(self) -> RGBColor {
        RGBColor(self.light.0, self.light.1, self.light.2)
    }
}

#[allow(clippy::cast_possible_truncation)]
const fn split(rgb: u32) -> (u8, u8, u8) {
    ((rgb >> 16) as u8, (rgb >> 8) as u8, rgb as u8)
}

/// `#RRGGBB`, as the SVG backend writes it.
pub(crate) fn hex(rgb: (u8, u8, u8)) -> String {
    format!("#{:02X}{:02X}{:02X}", rgb.0, rgb.1, rgb.2)
}

/// Words and main lines.
pub(crate) const TEXT: Ink = Ink::new(0x1B_2226, 0xEC_EFEC);
/// Second words: axis numbers, captions inside a figure.
pub(crate) const QUIET: Ink = Ink::new(0x55_6068, 0xA9_B4B8);
/// Grid.
pub(crate) const GRID: Ink = Ink::new(0xE1_E4E2, 0x30_383C);
/// Axis.
pub(crate) const AXIS: Ink = Ink::new(0x9A_A3A6, 0x66_7378);
/// Ground of the figure, for gaps under labels and inside hollow marks.
pub(crate) const GROUND: Ink = Ink::new(0xFE_FEFD, 0x15_1A1D);
/// Area of a burst in the time trace.
pub(crate) const BURST: Ink = Ink::new(0xEE_F0EC, 0x20_272B);
/// Area of the working window.
pub(crate) const WINDOW: Ink = Ink::new(0xD3_E4F7, 0x1D_3A57);
/// Raw readings.
pub(crate) const RAW: Ink = Ink::new(0x8C_979C, 0x77_8389);
/// Limits and warnings.
pub(crate) const LIMIT: Ink = Ink::new(0x7A_1F1A, 0xF2_A79F);

/// Series colours, in the order they are given out.
pub(crate) const SERIES: [Ink; 5] = [
    Ink::new(0x33_3F9B, 0x81_76D9),
    Ink::new(0xCE_7B06, 0xDB_BC3A),
    Ink::new(0x57_8EEF, 0x69_C6CE),
    Ink::new(0x86_4230, 0xB8_7827),
    Ink::new(0x3A_1027, 0xC4_FCD9),
];

/// The nozzle curve of a window figure.
pub(crate) const NOZZLE: Ink = SERIES[0];
/// The supply curve.
pub(crate) const SUPPLY: Ink = SERIES[1];

/// Every colour that a figure may use.
pub(crate) const ALL: [Ink; 14] = [
    TEXT, QUIET, GRID, AXIS, GROUND, BURST, WINDOW, RAW, LIMIT, SERIES[0], SERIES[1], SERIES[2],
    SERIES[3], SERIES[4],
];

#[cfg(test)]
mod tests {
    use super::*;

    fn luminance(rgb: (u8, u8, u8)) -> f64 {
        let part = |c: u8| {
            let c = f64::from(c) / 255.0;
            if c <= 0.040_45 {
                c / 12.92
            } else {
                ((c + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * part(rgb.0) + 0.7152 * part(rgb.1) + 0.0722 * part(rgb.2)
    }

    /// WCAG 2.2, definition of contrast ratio.
    fn contrast(a: (u8, u8, u8), b: (u8, u8, u8)) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    /// WCAG 2.2, 1.4.3 (text, 4.5) and 1.4.11 (graphics, 3).
    #[test]
    fn words_and_marks_stand_out_on_every_ground() {
        for ground in [GROUND, BURST, WINDOW] {
            for ink in [TEXT, QUIET, LIMIT] {
                assert!(
                    contrast(ink.light, ground.light) >= 4.5,
                    "{ink:?} {ground:?}"
                );
                assert!(contrast(ink.dark, ground.dark) >= 4.5, "{ink:?} {ground:?}");
            }
        }
        for ink in SERIES {
            assert!(contrast(ink.light, GROUND.light) >= 3.0, "{ink:?}");
            assert!(contrast(ink.dark, GROUND.dark) >= 3.0, "{ink:?}");
        }
    }

    /// A style sheet tells colours apart by their value alone.
    #[test]
    fn no_two_colours_are_the_same() {
        for (i, a) in ALL.iter().enumerate() {
            for b in &ALL[i + 1..] {
                assert_ne!(a.light, b.light);
            }
        }
    }
}
