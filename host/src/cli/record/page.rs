//! The bench page of a recording: bound, fed, and its links printed.

use std::net::{IpAddr, Ipv4Addr, SocketAddr, TcpListener};
use std::sync::Arc;

use super::folder::NewFolder;
use crate::cli::Stop;
use crate::cli::args::PageArgs;
use crate::live::bench::Scale;
use crate::live::calibrating::CalibrationDesk;
use crate::live::feed::{Feed, FeedSetup, PageListener, StatusSlot};
use crate::live::hub::Hub;
use crate::live::notebook::{FolderDesk, FolderNotes};
use crate::live::pairing::in_halves;
use crate::live::points::Points;
use crate::live::readings::Readings;
use crate::live::routes::{Content, Site};
use crate::live::server::{self, Server};
use crate::live::snapshot::{BenchView, Snapshot};
use crate::live::tap::{self, Tap};
use crate::pipeline::flow_meter;
use crate::recording::settings::Settings;

/// How many ports after the wanted one are tried.
const PORTS_TRIED: u16 = 20;

/// Addresses that are bound, and how they are called.
pub(in crate::cli) struct Bound {
    listeners: Vec<TcpListener>,
    port: u16,
    shared: Vec<IpAddr>,
}

impl Bound {
    /// Every `host:port` under which the page may be asked for.
    pub(in crate::cli) fn hosts(&self) -> Vec<String> {
        let port = self.port;
        let mut hosts = vec![format!("127.0.0.1:{port}"), format!("localhost:{port}")];
        hosts.extend(
            self.shared
                .iter()
                .map(|ip| SocketAddr::new(*ip, port).to_string()),
        );
        hosts
    }

    pub(in crate::cli) const fn port(&self) -> u16 {
        self.port
    }

    pub(in crate::cli) fn is_shared(&self) -> bool {
        !self.shared.is_empty()
    }

    pub(in crate::cli) fn shared(&self) -> &[IpAddr] {
        &self.shared
    }

    pub(in crate::cli) fn serve(self, site: Arc<Site>) -> Result<Server, Stop> {
        server::serve(self.listeners, site).map_err(Stop::failed)
    }
}

/// Binds the loopback address, and others only when sharing was asked for.
pub(in crate::cli) fn bind_page(args: &PageArgs) -> Result<Bound, Stop> {
    let shared = match args.share {
        None => Vec::new(),
        Some(Some(address)) => vec![address],
        Some(None) => own_addresses(),
    };
    if args.share.is_some() && shared.is_empty() {
        return Err(Stop::bad_input(
            "--share: this computer has no network address to share on; connect it to your network, or \
             leave --share out",
        ));
    }
    let last = args.page_port.saturating_add(PORTS_TRIED);
    let mut refusal = None;
    for port in args.page_port..=last {
        match bind_all(port, &shared) {
            Ok(bound) => return Ok(bound),
            Err(error) => refusal = Some(refusal.unwrap_or(error)),
        }
    }
    Err(refusal.map_or_else(
        || Stop::failed("no port for the page; record with --no-page"),
        Stop::bad_input,
    ))
}

fn bind_all(port: u16, shared: &[IpAddr]) -> Result<Bound, server::ServeError> {
    let local = server::bind(SocketAddr::new(Ipv4Addr::LOCALHOST.into(), port))?;
    let port = local.local_addr().map_or(port, |address| address.port());
    let mut listeners = vec![local];
    // The loopback address is bound already.
    for ip in shared.iter().filter(|ip| **ip != Ipv4Addr::LOCALHOST) {
        listeners.push(server::bind(SocketAddr::new(*ip, port))?);
    }
    Ok(Bound {
        listeners,
        port,
        shared: shared.to_vec(),
    })
}

/// Addresses of this computer in its networks.
fn own_addresses() -> Vec<IpAddr> {
    let interfaces = if_addrs::get_if_addrs().unwrap_or_default();
    interfaces
        .iter()
        .map(if_addrs::Interface::ip)
        .filter(|ip| !ip.is_loopback() && ip.is_ipv4())
        .collect()
}

/// The running page. Dropping it ends it: viewers first, then the feed.
pub(super) struct Page {
    listener: PageListener,
    _server: Server,
    _feed: Feed,
}

impl Page {
    pub(super) fn listener(&self) -> PageListener {
        self.listener.clone()
    }
}

/// Starts the page and prints how to reach it.
pub(super) fn open(
    bound: Bound,
    new: &NewFolder,
    offset_s: f64,
    args: &PageArgs,
) -> Result<Page, Stop> {
    let settings = new.settings();
    let (tap, spout) = tap::tap(tap::DEPTH);
    let slot = Arc::new(StatusSlot::default());
    let readings = Arc::new(Readings::default());
    let hub = Arc::new(Hub::new(first_snapshot(new.name(), settings)));
    let feed = Feed::start(FeedSetup {
        scale: Scale {
            pulse_volume_m3: Some(flow_meter(settings).pulse_volume_m3),
            pressure_sensor: settings.pressure_sensor,
        },
        points: Points::new(new.name(), settings.clone()),
        spout,
        slot: Arc::clone(&slot),
        notes: Box::new(FolderNotes::new(new.path().to_owned(), offset_s)),
        readings: Arc::clone(&readings),
        hub: Arc::clone(&hub),
    })
    .map_err(|e| Stop::failed(format!("the page could not start: {e}")))?;
    let desk = Arc::new(FolderDesk::new(new.path().to_owned(), offset_s));
    let calibration = Arc::new(CalibrationDesk {
        readings,
        folder: new.path().to_owned(),
        full_scale_pa: settings.pressure_sensor.full_scale_pa,
        utc_offset_s: offset_s,
    });
    let content = Content::Bench {
        hub,
        desk,
        calibration,
    };
    let site =
        Arc::new(Site::new(content, bound.hosts(), bound.is_shared()).map_err(Stop::failed)?);
    let (owner, viewer) = site.token_texts();
    eprintln!("bench page: http://127.0.0.1:{}/#key={owner}", bound.port());
    print_share(&bound, &site, Some(&viewer), args)?;
    let server = bound.serve(site)?;
    Ok(Page {
        listener: page_listener(tap, slot),
        _server: server,
        _feed: feed,
    })
}

const fn page_listener(tap: Tap, slot: Arc<StatusSlot>) -> PageListener {
    PageListener::new(tap, slot)
}

/// For other devices: address, one-time code and its picture; and the link for a wall.
pub(in crate::cli) fn print_share(
    bound: &Bound,
    site: &Site,
    viewer: Option<&str>,
    args: &PageArgs,
) -> Result<(), Stop> {
    if let Some(viewer) = viewer {
        let ip = bound.shared().first().copied();
        let host = SocketAddr::new(ip.unwrap_or(Ipv4Addr::LOCALHOST.into()), bound.port());
        eprintln!("for a wall (looking only): http://{host}/#view={viewer}");
    }
    if args.share.is_none() {
        return Ok(());
    }
    let code = site.open_pairing(0.0).map_err(Stop::failed)?;
    for ip in bound.shared() {
        let host = SocketAddr::new(*ip, bound.port());
        eprintln!(
            "from a phone: http://{host}/ with code {}",
            in_halves(&code)
        );
    }
    eprintln!(
        "the code works once, for ten minutes. Share only in a network that you trust: the line is not \
         encrypted."
    );
    if let Some(ip) = bound.shared().first() {
        let host = SocketAddr::new(*ip, bound.port());
        if let Some(picture) = picture(&format!("http://{host}/#pair={code}")) {
            eprintln!("{picture}");
        }
    }
    Ok(())
}

/// A link as a picture for a phone's camera, made of half blocks.
fn picture(link: &str) -> Option<String> {
    let code = qrcode::QrCode::new(link.as_bytes()).ok()?;
    Some(
        code.render::<qrcode::render::unicode::Dense1x2>()
            .quiet_zone(true)
            .build(),
    )
}

fn first_snapshot(name: String, settings: &Settings) -> Snapshot {
    Snapshot {
        bench: BenchView {
            recording: name,
            rig: settings.rig.clone(),
            is_simulated: settings.is_simulated,
            tips: settings.tips.iter().map(|tip| tip.code.clone()).collect(),
            materials: settings.materials.iter().map(|m| m.name.clone()).collect(),
            working_pressure_pa: settings.limits.working_pressure_pa,
            ..BenchView::default()
        },
        ..Snapshot::default()
    }
}
