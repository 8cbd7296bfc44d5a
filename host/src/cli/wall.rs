//! `tipcurve wall`: several benches side by side, nothing to press.

use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;

use super::Stop;
use super::args::WallArgs;
use super::record::{bind_page, print_share, stop_on_signal};
use crate::live::routes::{Content, Site};
use crate::live::wall::{self, BenchAddress, WallFeed};

pub(super) fn run(args: &WallArgs) -> Result<(), Stop> {
    let benches = args
        .benches
        .iter()
        .map(|link| BenchAddress::parse(link))
        .collect::<Result<Vec<_>, _>>()
        .map_err(Stop::bad_input)?;
    let bound = bind_page(&args.page)?;
    let feed = Arc::new(WallFeed::new(&benches));
    wall::start(benches, Arc::clone(&feed)).map_err(Stop::failed)?;
    let site = Site::new(Content::Wall(feed), bound.hosts(), bound.is_shared());
    let site = Arc::new(site.map_err(Stop::failed)?);
    println!("wall: http://127.0.0.1:{}/", bound.port());
    print_share(&bound, &site, None, &args.page)?;
    let stop = stop_on_signal()?;
    let server = bound.serve(site)?;
    while !stop.load(Ordering::Relaxed) {
        std::thread::sleep(Duration::from_millis(100));
    }
    drop(server);
    Ok(())
}
