//! Diagnostics through `defmt` on the third serial port (USART3), never on the data line.
//!
//! The emulator writes that port to a file where it is asked to (`-serial file:NAME` after the other two), and drops
//! it otherwise; `defmt-print -e PROGRAM < NAME` makes words of it.

use core::cell::{Cell, RefCell};

use critical_section::{Mutex, RestoreState};
use defmt::{Encoder, Logger};

use crate::machine::DIAGNOSTICS;

static ENCODER: Mutex<RefCell<Encoder>> = Mutex::new(RefCell::new(Encoder::new()));

static RESTORE: Mutex<Cell<RestoreState>> = Mutex::new(Cell::new(RestoreState::invalid()));

#[defmt::global_logger]
struct Port;

/// Hands the encoder a writer. It is never borrowed twice: only whoever acquired calls this.
fn encode(how: impl FnOnce(&mut Encoder)) {
    critical_section::with(|section| {
        if let Ok(mut encoder) = ENCODER.borrow(section).try_borrow_mut() {
            how(&mut encoder);
        }
    });
}

#[expect(unsafe_code, reason = "the trait asks for it")]
// SAFETY: between acquire and release the interrupts are off, so that no frame is inside another.
unsafe impl Logger for Port {
    fn acquire() {
        // SAFETY: `release` gives back what is kept here.
        let restore = unsafe { critical_section::acquire() };
        critical_section::with(|section| RESTORE.borrow(section).set(restore));
        encode(|encoder| encoder.start_frame(|bytes| DIAGNOSTICS.put_all(bytes)));
    }

    unsafe fn flush() {}

    unsafe fn release() {
        encode(|encoder| encoder.end_frame(|bytes| DIAGNOSTICS.put_all(bytes)));
        let restore = critical_section::with(|section| RESTORE.borrow(section).get());
        // SAFETY: what the acquire before this returned.
        unsafe { critical_section::release(restore) };
    }

    unsafe fn write(bytes: &[u8]) {
        encode(|encoder| encoder.write(bytes, |bytes| DIAGNOSTICS.put_all(bytes)));
    }
}
