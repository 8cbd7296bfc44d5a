//! Tables of the page: they scroll sideways on a phone, with the first column in place.

use maud::{Markup, html};

use super::parts::sentence;
use crate::report::piece::Sentence;
use crate::report::view::{Align, Row, Table};

/// A table with heading and caption.
pub(crate) fn table(t: &Table) -> Markup {
    let title = format!("{}-title", t.id);
    html! {
        section id=(t.id) aria-labelledby=(title) {
            h2 id=(title) { (t.title) }
            @if !t.caption.is_empty() { p.caption { (sentence(&t.caption)) } }
            div.scroll role="region" aria-labelledby=(title) tabindex="0" {
                table {
                    thead { tr {
                        @for c in &t.columns { th scope="col" class=[class(c.align)] { (c.head) } }
                    } }
                    tbody { @for r in &t.rows { (row(t, r)) } }
                }
            }
        }
    }
}

const fn class(align: Align) -> Option<&'static str> {
    match align {
        Align::Left => None,
        Align::Right => Some("n"),
    }
}

/// Longest text, in characters, that may stand in a column of a few words.
const SHORT_TEXT: usize = 32;

/// A cell with a sentence in it claims room: set in a column of one word it would make its row a tower.
fn wide(cell: &Sentence) -> Option<&'static str> {
    (cell.to_text().chars().count() > SHORT_TEXT).then_some("words")
}

fn row(t: &Table, r: &Row) -> Markup {
    let id = (!r.id.is_empty()).then_some(r.id.as_str());
    let quiet = r.is_quiet.then_some("quiet");
    html! {
        tr id=[id] class=[quiet] {
            @for (i, (cell, column)) in r.cells.iter().zip(&t.columns).enumerate() {
                @if i == 0 {
                    th scope="row" class=[class(column.align)] { (sentence(cell)) }
                } @else {
                    td class=[class(column.align).or_else(|| wide(cell))] { (sentence(cell)) }
                }
            }
        }
    }
}
