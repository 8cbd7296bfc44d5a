//! The logger on an emulated Cortex-M4: data on USART1, the feed of its sensors on USART2, a clock
//! tick of a thousand a second, diagnostics on USART3. `FEED.md` describes the feed.
#![no_std]
#![no_main]

mod diagnostics;
mod machine;

use cortex_m_rt::entry;
use tipcurve_emulated::feed::BadLine;
use tipcurve_emulated::line::PacedLine;
use tipcurve_emulated::replay::{Progress, Replay};
use tipcurve_firmware::{App, Config};
use tipcurve_protocol::ResetReason;
use tipcurve_protocol::message::Name;

use machine::{DATA, FEED, Machine};

/// Says what the board is. `TCEMULAT` in ASCII is no chip's number.
const DEVICE_ID: u64 = u64::from_be_bytes(*b"TCEMULAT");

const TICKS_PER_MS: u64 = 1_000;

#[entry]
fn main() -> ! {
    let Some(mut machine) = Machine::start() else {
        halt()
    };
    let mut replay = Replay::new();
    FEED.put_all(b"ready\n");
    let boot_id = loop {
        match replay.read_boot_id(&mut || FEED.take()) {
            Ok(Some(boot_id)) => break boot_id,
            Ok(None) => machine.wait_for_tick(),
            Err(bad) => refuse(bad),
        }
    };
    let Some(app) = cortex_m::singleton!(: App = App::new(config(boot_id))) else {
        halt()
    };
    let mut line = PacedLine::new(|byte| DATA.put(byte));
    while run_millisecond(&mut machine, app, &mut replay, &mut line) != Progress::Ended {
        machine.wait_for_tick();
    }
    app.flush();
    while !app.next_bytes(replay.now_ticks()).is_empty() {
        line.add_millisecond();
        let Ok(_) = app.poll_send(replay.now_ticks(), &mut line);
        machine.wait_for_tick();
    }
    FEED.put_all(b"done\n");
    halt()
}

fn config(boot_id: u32) -> Config {
    Config {
        device_id: DEVICE_ID,
        boot_id,
        reset_reason: ResetReason::PowerOn,
        board: Name::try_from("emulated").unwrap_or_default(),
        ..Config::default()
    }
}

/// Everything that a millisecond of device time brings, if the feed has it.
fn run_millisecond<P: FnMut(u8)>(
    machine: &mut Machine,
    app: &mut App,
    replay: &mut Replay,
    line: &mut PacedLine<P>,
) -> Progress {
    let until_ticks = (replay.now_ticks() / TICKS_PER_MS + 1) * TICKS_PER_MS;
    let progress = loop {
        match replay.advance(app, until_ticks, &mut || FEED.take()) {
            Ok(Progress::Waiting) => {}
            Ok(progress) => break progress,
            Err(bad) => refuse(bad),
        }
        // The host is heard and answered even while time stands still; the line then goes by the
        // machine's clock.
        hear_host(app, replay.now_ticks());
        if machine.has_ticked() {
            line.add_millisecond();
        }
        let Ok(_) = app.poll_send(replay.now_ticks(), line);
        Machine::wait_for_feed();
    };
    hear_host(app, replay.now_ticks());
    let now_ticks = replay.now_ticks();
    app.poll(now_ticks, replay.sensors());
    line.add_millisecond();
    let Ok(_) = app.poll_send(now_ticks, line);
    progress
}

fn hear_host(app: &mut App, now_ticks: u64) {
    while let Some(byte) = DATA.take() {
        app.on_rx_byte(now_ticks, byte);
    }
}

/// Says which line of the feed is wrong, and stops.
fn refuse(bad: BadLine) -> ! {
    FEED.put_all(b"bad line ");
    let mut scale = 1_000_000_000;
    while scale > 1 && bad.line < scale {
        scale /= 10;
    }
    while scale > 0 {
        let digit = u8::try_from(bad.line / scale % 10).unwrap_or_default();
        FEED.put(b'0' + digit);
        scale /= 10;
    }
    FEED.put(b'\n');
    halt()
}

fn halt() -> ! {
    loop {
        cortex_m::asm::wfi();
    }
}

/// Nothing here should panic, and the linker then leaves this out; `firmware/build` lists what does.
#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    halt()
}
