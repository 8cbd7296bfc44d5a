//! What every reader of foreign bytes must stand: one function a reader, from any bytes to nothing or a failed assertion.
//!
//! `tests/fuzz` gives these to libFuzzer; `tests/tests/fuzz.rs` replays the committed corpus and a fixed number of its
//! mutations in the ordinary suite. A crasher becomes a file of the corpus.

pub mod calibration;
pub mod core;
pub mod http;
pub mod text;
pub mod wire;

/// A reader under test.
#[derive(Clone, Copy)]
pub struct Target {
    /// Name of its corpus folder and of its libFuzzer program.
    pub name: &'static str,
    /// Fails by an assertion.
    pub check: fn(&[u8]),
}

/// All of them.
pub const TARGETS: [Target; 10] = [
    Target {
        name: "stream",
        check: wire::check_stream,
    },
    Target {
        name: "block",
        check: wire::check_block,
    },
    Target {
        name: "frames",
        check: wire::check_frame,
    },
    Target {
        name: "log",
        check: wire::check_log,
    },
    Target {
        name: "core",
        check: core::check_core,
    },
    Target {
        name: "notes",
        check: text::check_notes,
    },
    Target {
        name: "samples",
        check: text::check_samples,
    },
    Target {
        name: "session",
        check: text::check_session,
    },
    Target {
        name: "calibration",
        check: calibration::check_calibration,
    },
    Target {
        name: "http",
        check: http::check_request,
    },
];
