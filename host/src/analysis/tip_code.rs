//! What a tip code says by common practice: fan width and nominal orifice.
//!
//! Tips are stamped with three figures. The first, doubled, is the fan width in inches at about
//! 12 inches (305 mm) from the surface; the last two are the equivalent orifice in thousandths
//! of an inch: `415` is an 8 inch (203 mm) fan from a 0.015 inch (0.381 mm) orifice. This is
//! common practice, no source; a maker's own figures, where the settings give them, come first.
//!
//! The notes take any label for a tip, so a label that holds no code, or more than one, yields
//! `None` and never a guess. No tolerance and no flow here: see `plan`.

use crate::recording::settings::Tip;
use crate::units::{M_PER_INCH, Metre};

/// Distance from the surface at which the fan width of a code holds: 12 inches (common practice,
/// no source).
pub const REFERENCE_DISTANCE: Metre = Metre(12.0 * M_PER_INCH);

/// Smallest orifice that a code is believed to name, thousandths of an inch. Common practice, no
/// source; below it a number such as `300` is taken for a free label.
const ORIFICE_THOU_MIN: u32 = 5;

/// Words that make the number before them a quantity and not a code: `120 mesh`, `210 bar`.
/// Single letters are left out on purpose: they are as likely part of a label (`415 L`).
const UNIT_WORDS: [&str; 13] = [
    "bar", "psi", "mpa", "kpa", "mesh", "mm", "um", "µm", "thou", "mil", "ml", "hr", "hours",
];

/// A tip code, read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TipCode {
    /// First figure: half the fan width in inches.
    fan_figure: u32,
    /// Last two figures: orifice in thousandths of an inch.
    orifice_thou: u32,
}

impl TipCode {
    /// The code in a label, or `None` when it holds none or cannot be known.
    ///
    /// Read are the bare code (`415`), the code with letters around it (`fx415`, `415b`), and the
    /// code among words (`tip 415, new`). Not read: labels without a separate group of three
    /// figures, with two different ones (`415 or 417`), with an orifice below five thousandths
    /// (`300`), and quantities (`120 mesh`).
    ///
    /// *Source*: common practice, no source.
    #[must_use]
    pub fn parse(label: &str) -> Option<Self> {
        let mut found: Option<Self> = None;
        let words: Vec<&str> = label
            .split(|c: char| c.is_whitespace() || matches!(c, ',' | ';' | '(' | ')' | '/' | ':'))
            .filter(|word| !word.is_empty())
            .collect();
        for (position, word) in words.iter().enumerate() {
            let next_is_unit = words
                .get(position + 1)
                .is_some_and(|next| UNIT_WORDS.contains(&next.to_lowercase().as_str()));
            if next_is_unit {
                continue;
            }
            for code in codes_in_word(word) {
                if found.is_some_and(|earlier| earlier != code) {
                    return None;
                }
                found = Some(code);
            }
        }
        found
    }

    /// Fan width at [`REFERENCE_DISTANCE`]: twice the first figure in inches.
    #[must_use]
    pub fn fan_width(self) -> Metre {
        Metre(f64::from(2 * self.fan_figure) * M_PER_INCH)
    }

    /// Nominal equivalent orifice: the last two figures in thousandths of an inch.
    #[must_use]
    pub fn orifice_diameter(self) -> Metre {
        Metre::from_thou(f64::from(self.orifice_thou))
    }
}

/// A tip by its label: what the settings say of it, completed by its code where they are silent.
///
/// The settings' own width and distance stay together: when the settings give a width without a
/// distance, the distance of common practice is filled in, and the other way round the width.
#[must_use]
pub fn describe_tip(label: &str, tips: &[Tip]) -> Tip {
    let wanted = label.trim();
    let mut tip = tips
        .iter()
        .find(|tip| tip.code.trim().eq_ignore_ascii_case(wanted))
        .cloned()
        .unwrap_or_default();
    if tip.code.is_empty() {
        wanted.clone_into(&mut tip.code);
    }
    if let Some(code) = TipCode::parse(wanted) {
        tip.orifice_diameter_m
            .get_or_insert(code.orifice_diameter().si());
        tip.fan_width_m.get_or_insert(code.fan_width().si());
        tip.reference_distance_m
            .get_or_insert(REFERENCE_DISTANCE.si());
    }
    tip
}

/// Codes in one word: its groups of exactly three figures that read as a code.
fn codes_in_word(word: &str) -> impl Iterator<Item = TipCode> {
    // A decimal number (`0.415`, `1,415`) or one joined by a sign is a quantity, not a code.
    let is_number = word.contains('.') && word.trim_end_matches('.').contains('.');
    word.split(|c: char| !c.is_ascii_digit())
        .filter(move |figures| !is_number && figures.len() == 3)
        .filter_map(|figures| {
            let number: u32 = figures.parse().ok()?;
            let code = TipCode {
                fan_figure: number / 100,
                orifice_thou: number % 100,
            };
            (code.fan_figure >= 1 && code.orifice_thou >= ORIFICE_THOU_MIN).then_some(code)
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(label: &str, expected: Option<(f64, f64)>) {
        let found = TipCode::parse(label);
        match (found, expected) {
            (None, None) => {}
            (Some(code), Some((width_mm, orifice_mm))) => {
                assert!(
                    (code.fan_width().as_mm() - width_mm).abs() < 0.51,
                    "{code:?}"
                );
                let off = (code.orifice_diameter().as_mm() - orifice_mm).abs();
                assert!(off < 5e-4, "{code:?}");
            }
            other => panic!("{label}: {other:?}"),
        }
    }

    /// Common practice, no source: 415 is a 203 mm fan from a 0.381 mm orifice.
    #[test]
    fn a_code_gives_fan_width_and_orifice() {
        check("415", Some((203.0, 0.381)));
        check("209", Some((102.0, 0.229)));
        check("521", Some((254.0, 0.533)));
        check("825", Some((406.0, 0.635)));
        assert!((REFERENCE_DISTANCE.as_mm() - 304.8).abs() < 1e-9);
    }

    #[test]
    fn a_code_is_read_out_of_a_free_label() {
        check(" tip 415, new ", Some((203.0, 0.381)));
        check("fx415", Some((203.0, 0.381)));
        check("415b", Some((203.0, 0.381)));
        check("415 (415)", Some((203.0, 0.381)));
        check("415 L", Some((203.0, 0.381)));
        check("415 no 2", Some((203.0, 0.381)));
    }

    #[test]
    fn a_label_without_one_certain_code_is_never_guessed() {
        for label in [
            "",
            "fine",
            "15",
            "4150",
            "415 or 417",
            "415/417",
            "300",
            "015",
            "120 mesh",
            "210 bar",
            "0.415",
            "2024",
            "①②③",
            "old brass one",
            "41 5",
        ] {
            check(label, None);
        }
    }

    #[test]
    fn settings_come_before_the_code() {
        let tips = [Tip {
            code: "415".into(),
            orifice_diameter_m: Some(0.000_39),
            ..Tip::default()
        }];
        let tip = describe_tip(" 415", &tips);
        assert_eq!(tip.orifice_diameter_m, Some(0.000_39));
        assert!((tip.fan_width_m.unwrap() - 0.2032).abs() < 1e-12);
        let tip = describe_tip("brass", &tips);
        assert_eq!((tip.code.as_str(), tip.orifice_diameter_m), ("brass", None));
    }
}
