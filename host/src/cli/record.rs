//! `tipcurve record`: a logger's bytes into a recording folder, with the bench page meanwhile.

mod folder;
mod page;
mod status_line;

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use super::Stop;
use super::args::RecordArgs;
use crate::record::address::Address;
use crate::record::host_clock::HostClock;
use crate::record::port::{Ports, SystemPorts};
use crate::record::probe::{Found, command, find_logger};
use crate::record::recorder::{Setup, record};
use crate::record::status::{Listener, Status};
use folder::{FolderLog, NewFolder};
use status_line::StatusLine;
use tipcurve_protocol::Action;

pub(super) use page::{Bound, bind_page, print_share};

pub(super) fn run(args: &RecordArgs) -> Result<(), Stop> {
    let ports = SystemPorts { baud: args.baud };
    if args.list {
        list(&ports);
        return Ok(());
    }
    let wanted = args
        .port
        .iter()
        .map(|text| text.parse::<Address>())
        .collect::<Result<Vec<_>, _>>()
        .map_err(Stop::bad_input)?;
    let clock = HostClock::start();
    let offset_s = super::local::utc_offset_s(clock.now_unix_s());
    let stop = stop_on_signal()?;
    let path = args
        .recording
        .clone()
        .unwrap_or_else(|| PathBuf::from(super::local::folder_name(clock.now_unix_s(), offset_s)));
    // The folder is made, and its disk tried, before the logger is opened: not a byte is lost to a
    // folder that cannot be written.
    let new = folder::prepare(&path, args, clock.now_unix_s(), offset_s)?;
    let bound = if args.no_page {
        None
    } else {
        Some(bind_page(&args.page)?)
    };
    eprintln!("{}", looking(&wanted));
    let found = find_logger(
        &ports,
        &wanted,
        args.device,
        Duration::from_secs(args.wait),
        &stop,
    )
    .map_err(Stop::bad_input)?;
    eprintln!("{}", described(&found));
    record_from(
        args, ports, found, wanted, new, bound, clock, offset_s, &stop,
    )
}

#[expect(clippy::too_many_arguments, reason = "each is made once and used once")]
fn record_from(
    args: &RecordArgs,
    ports: SystemPorts,
    mut found: Found,
    wanted: Vec<Address>,
    new: NewFolder,
    bound: Option<Bound>,
    clock: HostClock,
    offset_s: f64,
    stop: &Arc<AtomicBool>,
) -> Result<(), Stop> {
    if let Some(rate) = args.rate {
        found
            .source
            .write(&command(2, Action::SetRate(rate)))
            .map_err(|e| {
                Stop::failed(format!("port {}: {e}; nothing was recorded", found.address))
            })?;
    }
    let page = match bound {
        None => None,
        Some(bound) => Some(page::open(bound, &new, offset_s, &args.page)?),
    };
    let mut listeners = Listeners {
        line: StatusLine::new(new.name()),
        page: page.as_ref().map(page::Page::listener),
    };
    let path = new.path().to_owned();
    let setup = Setup {
        ports: Arc::new(ports) as Arc<dyn Ports>,
        found,
        wanted,
        rate_hz: args.rate,
        log: FolderLog::new(new.keep()),
        folder: path.clone(),
        clock,
        stop: Arc::clone(stop),
    };
    let status = record(setup, &mut listeners);
    listeners.line.end();
    drop(page);
    let status = status.map_err(Stop::failed)?;
    say_end(args, &path, &status);
    Ok(())
}

/// Everyone who wants to know.
struct Listeners {
    line: StatusLine,
    page: Option<crate::live::feed::PageListener>,
}

impl Listener for Listeners {
    fn on_bytes(&mut self, bytes: &[u8], arrived_unix_s: f64) {
        if let Some(page) = &mut self.page {
            page.on_bytes(bytes, arrived_unix_s);
        }
    }

    fn on_status(&mut self, status: &Status) {
        if let Some(page) = &mut self.page {
            page.on_status(status);
        }
        self.line.show(status);
    }
}

/// A flag that Ctrl-C, a terminate or a hang-up sets. A second signal does nothing more: the end is
/// already under way, and takes less than a second.
pub(super) fn stop_on_signal() -> Result<Arc<AtomicBool>, Stop> {
    let stop = Arc::new(AtomicBool::new(false));
    let flag = Arc::clone(&stop);
    ctrlc::set_handler(move || flag.store(true, Ordering::Relaxed))
        .map_err(|e| Stop::failed(format!("signals cannot be caught: {e}")))?;
    Ok(stop)
}

fn list(ports: &SystemPorts) {
    let found = ports.list();
    if found.is_empty() {
        println!("no serial port is there");
    }
    for port in found {
        println!("{}\t{}", port.name, port.what);
    }
}

fn looking(wanted: &[Address]) -> String {
    if wanted.is_empty() {
        return "looking for a logger on every serial port".to_owned();
    }
    let names: Vec<String> = wanted.iter().map(ToString::to_string).collect();
    format!("looking for a logger at {}", names.join(", "))
}

fn described(found: &Found) -> String {
    match &found.hello {
        Some(hello) => format!(
            "logger {:X} at {}: {}, firmware {}, {} samples/s",
            hello.device_id,
            found.address,
            hello.board.as_str(),
            hello.firmware.as_str(),
            hello.sample_rate_hz
        ),
        None => format!("logger at {}, its hello is still to come", found.address),
    }
}

fn say_end(args: &RecordArgs, path: &std::path::Path, status: &Status) {
    if args.json {
        let text = serde_json::json!({
            "recording": path.display().to_string(),
            "duration_s": status.elapsed_s,
            "samples": status.samples,
            "samples_lost": status.samples_lost,
            "edges_lost": status.edges_lost,
            "frames_damaged": status.frames_damaged,
            "reconnects": status.reconnects,
            "log_bytes": status.log_bytes,
            "warnings": status.warnings,
        });
        println!("{text}");
        return;
    }
    println!(
        "recording {}: {} samples, {} lost, {} pulses lost, {} damaged frames, line found again {} times",
        path.display(),
        status.samples,
        status.samples_lost,
        status.edges_lost,
        status.frames_damaged,
        status.reconnects
    );
    println!("next: tipcurve report {}", path.display());
}
