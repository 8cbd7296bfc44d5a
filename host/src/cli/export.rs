//! `tipcurve export`: a recording out to the plain-text interchange or to Parquet, never over anything.

use std::fs;
use std::path::{Path, PathBuf};

use crate::interchange::{self, ExportError};
use crate::recording::folder::{NOTES, SAMPLES, SESSION, name_of};
use crate::recording::load::load;
use crate::table::interchange::{NOTES_PARQUET, SAMPLES_PARQUET, turn_into_parquet};
use crate::table::{HAS_PARQUET, NO_PARQUET};

use super::Stop;
use super::args::{ExportArgs, ExportFormat};

pub(super) fn run(args: &ExportArgs) -> Result<(), Stop> {
    if args.format == ExportFormat::Parquet && !HAS_PARQUET {
        return Err(Stop::bad_input(format!(
            "{NO_PARQUET}; nothing was exported"
        )));
    }
    let recording = load(&args.recording).map_err(Stop::bad_input)?;
    let output = output_folder(args);
    let session_text = fs::read_to_string(args.recording.join(SESSION)).ok();
    match args.format {
        ExportFormat::Csv => interchange::export(&recording, session_text.as_deref(), &output),
        ExportFormat::Parquet => interchange::export_with(
            &recording,
            session_text.as_deref(),
            &output,
            turn_into_parquet,
        ),
    }
    .map_err(|e| match e {
        ExportError::Exists { .. } => Stop::bad_input(e),
        ExportError::System { .. } => Stop::failed(e),
    })?;
    let files = match args.format {
        ExportFormat::Csv => [SAMPLES, NOTES, SESSION],
        ExportFormat::Parquet => [SAMPLES_PARQUET, NOTES_PARQUET, SESSION],
    };
    say(args, &output, &files);
    Ok(())
}

fn say(args: &ExportArgs, output: &Path, files: &[&str]) {
    if args.json {
        let value = serde_json::json!({
            "schema": "tipcurve-export",
            "schema_version": 1,
            "recording": args.recording,
            "output": output,
            "format": match args.format {
                ExportFormat::Csv => "csv",
                ExportFormat::Parquet => "parquet",
            },
            "files": files,
        });
        println!("{value}");
        return;
    }
    println!("{}: {}", output.display(), files.join(", "));
    if args.format == ExportFormat::Csv {
        println!(
            "back in with: tipcurve import {} --output ANOTHER-FOLDER",
            output.display()
        );
    }
}

/// The folder asked for, or `NAME-export` in the folder that one stands in.
fn output_folder(args: &ExportArgs) -> PathBuf {
    args.output
        .clone()
        .unwrap_or_else(|| PathBuf::from(format!("{}-export", name_of(&args.recording))))
}
