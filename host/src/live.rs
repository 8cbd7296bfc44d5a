//! The bench page: reads snapshots, cannot delay the recorder.
