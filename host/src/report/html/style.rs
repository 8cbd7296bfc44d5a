//! Style sheets of page and card, and the figures' colours on a dark screen.

use crate::report::figure::palette::{ALL, hex};

/// The page.
pub(crate) const PAGE: &str = include_str!("page.css");
/// The setting card.
pub(crate) const CARD: &str = include_str!("card.css");

/// On a dark screen each colour of a figure gives way to its counterpart; paper and light screens keep the
/// colours as drawn.
pub(crate) fn figure_colours() -> String {
    let mut out = String::from("@media screen and (prefers-color-scheme:dark){");
    for ink in ALL {
        let (light, dark) = (hex(ink.light), hex(ink.dark));
        out.push_str(&format!(
            "figure [fill=\"{light}\"]{{fill:{dark}}}figure [stroke=\"{light}\"]{{stroke:{dark}}}"
        ));
    }
    out.push('}');
    out
}
