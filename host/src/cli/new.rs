//! `tipcurve new`: a recording folder to start from, every file with comments and examples.

mod ask;
pub(super) mod session;

use std::path::Path;

use super::Stop;
use super::args::NewArgs;
use crate::record::host_clock::system_unix_s;
use crate::recording::fault::FileFaults;
use crate::recording::folder;
use crate::recording::notes;
use crate::recording::settings;
use session::Answers;

/// What is in the folder and how to go on, for someone who opens it without the program.
const README: &str = include_str!("new/README.txt");

/// Name of that file.
const README_NAME: &str = "README.txt";

pub(super) fn run(args: &NewArgs) -> Result<(), Stop> {
    let path = &args.recording;
    if path.exists() {
        return Err(Stop::bad_input(format!(
            "{}: is there already; choose another name; nothing was changed",
            path.display()
        )));
    }
    let now_unix_s = system_unix_s();
    let offset_s = super::local::utc_offset_s(now_unix_s);
    let mut text = match &args.from {
        Some(earlier) => session::from_earlier(earlier, now_unix_s, offset_s)?,
        None => {
            let given = Answers::given(args)?;
            let answers = if args.no_questions {
                given
            } else {
                ask::complete(given)?
            };
            session::text(&answers, now_unix_s, offset_s)
        }
    };
    if let Some(file) = &args.calibration {
        text = session::with_calibration(&text, file)?;
    }
    check(&text)?;
    write_folder(path, &text)?;
    println!(
        "made {}: look through {}, then tipcurve record {}",
        path.display(),
        path.join(folder::SESSION).display(),
        path.display()
    );
    Ok(())
}

/// What was put together must be what the program itself reads.
fn check(text: &str) -> Result<(), Stop> {
    settings::read(text.as_bytes()).map(drop).map_err(|faults| {
        let file = folder::SESSION.to_owned();
        Stop::bad_input(format!("{}; nothing was made", FileFaults { file, faults }))
    })
}

fn write_folder(path: &Path, session: &str) -> Result<(), Stop> {
    let failed = |place: &Path| {
        let place = place.display().to_string();
        move |e: std::io::Error| {
            Stop::bad_input(format!(
                "{place}: {e}; choose another folder; nothing was made"
            ))
        }
    };
    std::fs::create_dir_all(path).map_err(failed(path))?;
    let header = notes::write(&[], 0.0);
    for (name, text) in [
        (folder::SESSION, session),
        (folder::NOTES, header.as_str()),
        (README_NAME, README),
    ] {
        let file = path.join(name);
        folder::write_synced(&file, text).map_err(failed(&file))?;
    }
    Ok(())
}
