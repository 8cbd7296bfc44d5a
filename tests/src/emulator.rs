//! The emulated board as a running program: built by `firmware/build`, run by `qemu-system-arm`.
//!
//! Its sensors are fed over a TCP port of this computer; its line is a TCP port too, or a
//! pseudo-terminal as a serial port is. Nothing here reads what the board sends.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};

/// Set by `tests/run`: a board that cannot be built is then a failure and not a skipped test.
pub const MUST_RUN: &str = "TIPCURVE_BOARD_MUST_RUN";

/// Builds the board; `None` with a printed reason where neither toolchain nor emulator can be had.
///
/// # Panics
/// When the build fails, or cannot be had although [`MUST_RUN`] is set.
#[must_use]
#[allow(clippy::print_stderr)] // A skipped test says so.
pub fn build_board() -> Option<PathBuf> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let built = Command::new(root.join("firmware/build"))
        .args(["emulated", "--check", "--emulator"])
        .stderr(Stdio::inherit())
        .output()
        .expect("firmware/build starts; it needs python3");
    if built.status.code() == Some(3) {
        assert!(
            std::env::var_os(MUST_RUN).is_none(),
            "no toolchain or emulator, see above"
        );
        eprintln!("SKIPPED: the emulated board: no toolchain or emulator, see above");
        return None;
    }
    assert!(built.status.success(), "firmware/build emulated failed");
    let paths = String::from_utf8(built.stdout).expect("paths are text");
    let path = paths
        .lines()
        .find(|path| path.ends_with("tipcurve-emulated"));
    Some(PathBuf::from(path.expect("the program is listed")))
}

/// The emulator with a board. Ends with its owner, however that ends.
#[derive(Debug)]
pub struct Emulator {
    machine: Child,
    feed: TcpStream,
    diagnostics: PathBuf,
}

/// Boards that this program has started.
static N_STARTED: AtomicU32 = AtomicU32::new(0);

impl Drop for Emulator {
    fn drop(&mut self) {
        let _ = self.machine.kill();
        let _ = self.machine.wait();
        let _ = std::fs::remove_file(&self.diagnostics);
    }
}

impl Emulator {
    /// Starts a board whose line is a TCP stream.
    ///
    /// # Panics
    /// When the emulator does not start.
    #[must_use]
    pub fn start_on_tcp(program: &Path) -> (Self, TcpStream) {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a free port");
        let (emulator, _) = Self::start(program, &socket("data", &listener), false);
        let line = listener.accept().expect("the emulator connects").0;
        (emulator.ready(), line)
    }

    /// Starts a board whose line is a pseudo-terminal; its path.
    ///
    /// # Panics
    /// When the emulator does not start.
    #[must_use]
    pub fn start_on_terminal(program: &Path) -> (Self, PathBuf) {
        let (emulator, said) = Self::start(program, "pty,id=data", true);
        let path = said
            .split(' ')
            .find(|word| word.starts_with("/dev/"))
            .unwrap_or_else(|| panic!("the emulator names its terminal, not {said:?}"));
        let path = PathBuf::from(path);
        (emulator.ready(), path)
    }

    /// The machine, and the first line it says if one is waited for.
    fn start(program: &Path, line: &str, is_told: bool) -> (Self, String) {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a free port");
        let mut command = Command::new("qemu-system-arm");
        command.args(["-M", "netduinoplus2", "-display", "none"]);
        // 8 ns an instruction; waiting for an interrupt takes no time of the host.
        command.args(["-monitor", "none", "-icount", "shift=3,sleep=off"]);
        command.args(["-chardev", line, "-serial", "chardev:data"]);
        let feed = socket("feed", &listener);
        command.args(["-chardev", &feed, "-serial", "chardev:feed"]);
        let number = N_STARTED.fetch_add(1, Ordering::Relaxed);
        let file = format!("tipcurve-board-{}-{number}", std::process::id());
        let diagnostics = std::env::temp_dir().join(file);
        command.arg("-serial");
        command.arg(format!("file:{}", diagnostics.display()));
        let mut machine = command
            .arg("-kernel")
            .arg(program)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .spawn()
            .expect("the emulator starts");
        let mut said = String::new();
        if is_told {
            let output = machine.stdout.take().expect("its output is a pipe");
            let _ = BufReader::new(output).read_line(&mut said);
        }
        let feed = listener.accept().expect("the emulator connects").0;
        let emulator = Self {
            machine,
            feed,
            diagnostics,
        };
        (emulator, said)
    }

    fn ready(mut self) -> Self {
        self.expect_line("ready");
        self
    }

    /// Gives the board lines of its feed. Waits while the board has not read the ones before.
    ///
    /// # Panics
    /// When the board is gone.
    pub fn feed(&mut self, text: &str) {
        self.feed
            .write_all(text.as_bytes())
            .expect("the board reads on");
    }

    /// Waits until the feed has been replayed and all data have left the board.
    ///
    /// # Panics
    /// When the board says anything else.
    pub fn wait_until_done(&mut self) {
        self.expect_line("done");
    }

    /// What the board has said on its port for diagnostics, as `defmt` packs it.
    #[must_use]
    pub fn diagnostics(&self) -> Vec<u8> {
        std::fs::read(&self.diagnostics).unwrap_or_default()
    }

    /// Takes the board's supply away.
    ///
    /// # Panics
    /// When it had ended by itself.
    pub fn kill(mut self) {
        self.machine.kill().expect("it runs");
        self.machine.wait().expect("it ended");
    }

    #[track_caller]
    fn expect_line(&mut self, expected: &str) {
        let mut text = Vec::new();
        #[allow(clippy::unbuffered_bytes)] // A buffer would swallow what follows the line.
        for byte in (&mut self.feed).bytes() {
            match byte.expect("the board is there") {
                b'\n' => break,
                byte => text.push(byte),
            }
        }
        assert_eq!(String::from_utf8_lossy(&text), expected, "the board says");
    }
}

fn socket(name: &str, listener: &TcpListener) -> String {
    let port = listener.local_addr().expect("it is bound").port();
    format!("socket,id={name},host=127.0.0.1,port={port}")
}
