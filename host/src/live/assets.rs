//! The page's own files, inside the binary: it works without a network and asks nobody for anything.

/// One file of the page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Asset {
    /// Path after the host.
    pub path: &'static str,
    /// Media type.
    pub media_type: &'static str,
    /// Content.
    pub body: &'static str,
}

const HTML: &str = "text/html; charset=utf-8";
const CSS: &str = "text/css; charset=utf-8";
const JS: &str = "text/javascript; charset=utf-8";

macro_rules! assets {
    ($($path:literal, $media_type:expr, $file:literal;)*) => {
        &[$(Asset { path: $path, media_type: $media_type, body: include_str!($file) }),*]
    };
}

/// Every file. `/` is the bench page, or the wall when the program shows one.
pub const ASSETS: &[Asset] = assets! {
    "/bench.html", HTML, "page/bench.html";
    "/wall.html", HTML, "page/wall.html";
    "/assets/base.css", CSS, "page/base.css";
    "/assets/bench.css", CSS, "page/bench.css";
    "/assets/wall.css", CSS, "page/wall.css";
    "/assets/units.js", JS, "page/units.js";
    "/assets/line.js", JS, "page/line.js";
    "/assets/store.js", JS, "page/store.js";
    "/assets/charts.js", JS, "page/charts.js";
    "/assets/notes.js", JS, "page/notes.js";
    "/assets/calibrate.js", JS, "page/calibrate.js";
    "/assets/show.js", JS, "page/show.js";
    "/assets/bench.js", JS, "page/bench.js";
    "/assets/wall.js", JS, "page/wall.js";
    "/assets/icon.svg", "image/svg+xml", "page/icon.svg";
    "/assets/uplot.js", JS, "page/vendor/uplot.js";
    "/assets/uplot.css", CSS, "page/vendor/uplot.css";
    "/assets/uplot-LICENSE.txt", "text/plain; charset=utf-8", "page/vendor/uplot-LICENSE.txt";
};

/// The file at a path.
#[must_use]
pub fn find(path: &str) -> Option<&'static Asset> {
    ASSETS.iter().find(|asset| asset.path == path)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Own files may name no other host; the library's licence header names its home.
    #[test]
    fn no_own_file_names_an_outside_host() {
        for asset in ASSETS {
            let is_own = !asset.path.contains("uplot");
            let names_host = asset.body.contains("https://")
                || asset
                    .body
                    .replace("http://www.w3.org/2000/svg", "")
                    .contains("http://");
            assert!(!(is_own && names_host), "{} names a host", asset.path);
        }
    }

    #[test]
    fn no_own_script_makes_markup_or_code_from_text() {
        for asset in ASSETS {
            for way in [
                "innerHTML",
                "outerHTML",
                "insertAdjacentHTML",
                "document.write",
                "eval(",
            ] {
                assert!(!asset.body.contains(way), "{} uses {way}", asset.path);
            }
        }
    }

    #[test]
    fn every_file_that_a_page_names_is_there() {
        for page in ["/bench.html", "/wall.html"] {
            let body = find(page).unwrap().body;
            for part in body.split('"').filter(|part| part.starts_with("/assets/")) {
                assert!(find(part).is_some(), "{page} names {part}");
            }
        }
    }
}
