//! What a page says of the clock that the notes were written by.

use tipcurve::findings::Findings;

use super::page::Page;
use super::{example, file, files, fixtures, readers};

fn words_of(findings: &Findings) -> String {
    let page = Page::parse(file(&files(findings, &readers()[0]), "report.html"));
    page.all("body")[0].text()
}

#[test]
fn the_offset_is_told_with_its_uncertainty_where_a_note_is_on_a_burst() {
    let found = |findings: &&Findings| {
        let a = &findings.alignment;
        a.clock_offset_s.is_some() && a.matches.iter().any(|m| m.burst_index.is_some())
    };
    let known = fixtures().iter().find(found).unwrap();
    assert!(known.alignment.is_start_known);
    let mut unknown = known.clone();
    unknown.alignment.is_start_known = false;
    for (findings, what) in [
        (known, "Clock of the notes"),
        (&unknown, "Earliest clock time of the notes"),
    ] {
        let words = words_of(findings);
        let row = words.split(what).nth(1).unwrap_or_default();
        let value: String = row.chars().take(40).collect();
        assert!(value.contains("\u{a0}\u{b1}\u{a0}"), "{what}: {value}");
    }
}

#[test]
fn an_offset_that_nothing_was_found_by_is_not_told() {
    let mut findings = example::yard();
    findings.alignment.matches.clear();
    findings.alignment.clock_offset_s = Some(3.0);
    findings.alignment.u_clock_offset_s = Some(30.0);
    assert!(!words_of(&findings).contains("clock time of the notes"));
}
