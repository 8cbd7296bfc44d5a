//! Pages are valid HTML5, self-contained, accessible, and lead nowhere that is not there.

use std::collections::HashSet;

use super::page::Page;
use super::{all_findings, file, files, pages, readers};

#[test]
fn pages_are_valid_html5_and_hold_no_script_and_no_outside_reference() {
    for findings in all_findings() {
        for file in pages(&files(&findings, &readers()[0])) {
            let page = Page::parse(&file.text);
            assert!(
                page.faults().is_empty(),
                "{}: {:?}",
                findings.name,
                page.faults()
            );
            for element in page.all("*") {
                let name = element.name();
                let banned = ["script", "iframe", "object", "embed", "link", "img", "form"];
                assert!(
                    !banned.contains(&name.as_str()),
                    "{}: {name}",
                    findings.name
                );
                assert!(
                    !element.attributes().iter().any(|a| a.starts_with("on")),
                    "{}: {name} with an event handler",
                    findings.name
                );
                if let Some(href) = element.attribute("href") {
                    assert!(!href.contains(':'), "{}: {href}", findings.name);
                }
            }
            assert!(!file.text.contains("url("), "{}", findings.name);
        }
    }
}

#[test]
fn every_link_leads_somewhere_and_every_id_is_unique() {
    for findings in all_findings() {
        let files = files(&findings, &readers()[0]);
        let names: HashSet<&str> = files.iter().map(|f| f.name.as_str()).collect();
        for file in pages(&files) {
            let page = Page::parse(&file.text);
            let mut ids = HashSet::new();
            for element in page.all("*") {
                if let Some(id) = element.attribute("id") {
                    assert!(ids.insert(id.clone()), "{}: id {id} twice", findings.name);
                }
            }
            for element in page.all("*") {
                if let Some(href) = element.attribute("href") {
                    let found = match href.strip_prefix('#') {
                        Some(id) => ids.contains(id),
                        None => names.contains(href.as_str()),
                    };
                    assert!(found, "{}: {href}", findings.name);
                }
                for attribute in ["aria-labelledby", "headers"] {
                    for id in element
                        .attribute(attribute)
                        .unwrap_or_default()
                        .split_whitespace()
                    {
                        assert!(ids.contains(id), "{}: {attribute} {id}", findings.name);
                    }
                }
            }
        }
    }
}

/// WCAG 2.2: 1.1.1 (figures have words), 1.3.1 (tables have heads), 2.4.6 (headings), 3.1.1 (language).
#[test]
fn figures_have_words_tables_have_heads_and_headings_do_not_skip() {
    for findings in all_findings() {
        let files = files(&findings, &readers()[0]);
        let page = Page::parse(file(&files, "report.html"));
        assert_eq!(page.all("html")[0].attribute("lang").as_deref(), Some("en"));
        for svg in page.all("svg") {
            let is_described = svg.attribute("role").as_deref() == Some("img")
                && svg.attribute("aria-label").is_some_and(|l| l.len() > 30);
            let is_ornament = svg.attribute("aria-hidden").as_deref() == Some("true");
            assert!(is_described || is_ornament, "{}", findings.name);
        }
        for table in page.all("table") {
            assert!(
                table
                    .all("th")
                    .iter()
                    .all(|th| th.attribute("scope").is_some())
            );
        }
        let mut level = 0;
        for element in page.all("*") {
            let name = element.name();
            if let Some(n) = name.strip_prefix('h').and_then(|n| n.parse::<u32>().ok()) {
                assert!(n <= level + 1, "{}: h{level} then h{n}", findings.name);
                level = n;
            }
        }
        assert_eq!(page.all("h1").len(), 1);
    }
}
