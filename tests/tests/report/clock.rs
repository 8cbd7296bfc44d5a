//! What a page says of the clock that the notes were written by.

use tipcurve::findings::Findings;

use super::{example, file, files, fixtures, readers};

fn page_of(findings: &Findings) -> String {
    file(&files(findings, &readers()[0]), "report.html").to_owned()
}

const OFFSET: &str = "/alignment/clock_offset_s";
const EXPANDED: &str = "/alignment/expanded_95_clock_offset_s";

#[test]
fn the_offset_is_told_once_with_its_uncertainty_where_the_start_is_known() {
    let known = fixtures().iter().filter(|f| f.alignment.is_start_known);
    let mut seen = 0;
    for findings in known.filter(|f| f.alignment.clock_offset_s.is_some()) {
        let page = page_of(findings);
        assert_eq!(page.matches(OFFSET).count(), 1, "{}", findings.name);
        assert_eq!(page.matches(EXPANDED).count(), 1, "{}", findings.name);
        seen += 1;
    }
    assert!(seen >= 8, "{seen}");
}

#[test]
fn without_a_start_only_the_uncertainty_is_told() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures");
    // One with times to the minute, one with times that are about.
    for name in ["rec-08", "rec-28"] {
        let mut recording = tipcurve::interchange::import_folder(&folder.join(name)).unwrap();
        assert!(recording.settings.started_at_unix_s.take().is_some());
        let findings = tipcurve::pipeline::analyse(recording);
        assert!(!findings.alignment.is_start_known);
        let page = page_of(&findings);
        assert!(!page.contains(OFFSET), "{name}");
        assert_eq!(page.matches(EXPANDED).count(), 1, "{name}");
        assert!(page.contains("does not say when it began"), "{name}");
    }
}

#[test]
fn a_clock_that_no_note_on_a_burst_tells_is_not_told() {
    let mut findings = example::yard();
    findings.alignment.clock_offset_s = Some(3.0);
    findings.alignment.u_clock_offset_s = Some(30.0);
    assert!(page_of(&findings).contains(EXPANDED));
    findings.alignment.matches.clear();
    let page = page_of(&findings);
    assert!(!page.contains(OFFSET) && !page.contains(EXPANDED));
}
