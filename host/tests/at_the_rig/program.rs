//! The real program as a child process: started, watched, signalled, never left behind.

use std::io::Read;
use std::net::{TcpListener, TcpStream};
use std::path::Path;
use std::process::{Child, ChildStdin, Command, ExitStatus, Stdio};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use crate::rig::{Plugged, Rig};

/// Longest that anything is waited for: far above what it takes on a busy machine.
pub const PATIENCE: Duration = Duration::from_secs(120);

/// Waits for something to become true.
#[track_caller]
pub fn wait_until(what: &str, mut is_true: impl FnMut() -> bool) {
    let begun = Instant::now();
    while !is_true() {
        assert!(begun.elapsed() < PATIENCE, "waited in vain: {what}");
        std::thread::sleep(Duration::from_millis(5));
    }
}

/// The program with an environment of its own.
pub fn command(args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_tipcurve"));
    command.args(args).env_clear().stdin(Stdio::null());
    for name in ["PATH", "TMPDIR", "LLVM_PROFILE_FILE"] {
        if let Some(value) = std::env::var_os(name) {
            command.env(name, value);
        }
    }
    command
}

/// What a run to the end said.
pub struct Said {
    pub code: Option<i32>,
    pub out: String,
    pub err: String,
}

/// Runs the program to its end.
pub fn run(args: &[&str]) -> Said {
    let output = command(args).output().unwrap();
    Said {
        code: output.status.code(),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

/// The program, running.
pub struct Program {
    child: Child,
    out: Arc<Mutex<String>>,
    err: Arc<Mutex<String>>,
    threads: Vec<JoinHandle<()>>,
}

impl Program {
    pub fn start(args: &[&str]) -> Self {
        Self::spawn(command(args)).0
    }

    /// A recorder without a page.
    pub fn record(recording: &Path, port: &str) -> Self {
        let page = "--no-page";
        Self::start(&["record", text(recording), page, "--port", port])
    }

    /// With standard input to write to.
    pub fn start_piped(args: &[&str]) -> (Self, ChildStdin) {
        let mut command = command(args);
        command.stdin(Stdio::piped());
        let (program, input) = Self::spawn(command);
        (program, input.unwrap())
    }

    fn spawn(mut command: Command) -> (Self, Option<ChildStdin>) {
        let mut child = command
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let (out, err) = (Arc::default(), Arc::default());
        let threads = vec![
            gather(child.stdout.take().unwrap(), Arc::clone(&out)),
            gather(child.stderr.take().unwrap(), Arc::clone(&err)),
        ];
        let input = child.stdin.take();
        let program = Self {
            child,
            out,
            err,
            threads,
        };
        (program, input)
    }

    pub fn err(&self) -> String {
        self.err.lock().unwrap().clone()
    }

    pub fn out(&self) -> String {
        self.out.lock().unwrap().clone()
    }

    /// Waits until standard error says something.
    #[track_caller]
    pub fn wait_for(&self, words: &str) {
        let begun = Instant::now();
        while !self.err().contains(words) {
            let said = self.err();
            assert!(begun.elapsed() < PATIENCE, "no \"{words}\" in:\n{said}");
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    /// Waits for a whole line of standard error that begins so; gives the rest of it. Standard error is
    /// written piece by piece: the beginning of a line may be there before its end.
    #[track_caller]
    pub fn wait_for_line(&self, beginning: &str) -> String {
        let rest = || {
            let said = self.err();
            let whole = &said[..said.rfind('\n')?];
            let rest = whole
                .lines()
                .find_map(|line| line.strip_prefix(beginning))?;
            Some(rest.to_owned())
        };
        wait_until(beginning, || rest().is_some());
        rest().unwrap()
    }

    /// Sends a signal by its name, `INT` for example.
    pub fn signal(&self, name: &str) {
        let kill = format!("kill -{name} {}", self.child.id());
        let sent = Command::new("sh").args(["-c", &kill]).status().unwrap();
        assert!(sent.success(), "{kill}");
    }

    /// Kills it at this instant, as a crash or a cut of the power would.
    pub fn kill(mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    /// Waits for its end.
    #[track_caller]
    pub fn end(mut self) -> Said {
        let begun = Instant::now();
        let status: ExitStatus = loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                break status;
            }
            let said = self.err();
            assert!(begun.elapsed() < PATIENCE, "it does not end:\n{said}");
            std::thread::sleep(Duration::from_millis(5));
        };
        for thread in self.threads.drain(..) {
            thread.join().unwrap();
        }
        Said {
            code: status.code(),
            out: self.out(),
            err: self.err(),
        }
    }

    /// Ctrl-C, and waits for the end.
    #[track_caller]
    pub fn stop(self) -> Said {
        self.signal("INT");
        self.end()
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Gathers as it comes: a question ends without a line break.
fn gather(mut stream: impl Read + Send + 'static, into: Arc<Mutex<String>>) -> JoinHandle<()> {
    std::thread::spawn(move || {
        let mut buffer = [0; 4_096];
        while let Ok(n @ 1..) = stream.read(&mut buffer) {
            let part = String::from_utf8_lossy(&buffer[..n]);
            into.lock().unwrap().push_str(&part);
        }
    })
}

/// A rig behind a loopback socket, for one recorder.
pub struct Socket {
    pub address: String,
    listener: TcpListener,
}

impl Socket {
    pub fn open() -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let address = format!("tcp:{}", listener.local_addr().unwrap());
        Self { address, listener }
    }

    pub fn accept(&self) -> TcpStream {
        let stream = self.listener.accept().unwrap().0;
        let short = Some(Duration::from_millis(20));
        stream.set_read_timeout(short).unwrap();
        stream
    }

    /// The next recorder that connects hears this rig.
    pub fn plug(&self, plugged: Plugged) -> Rig {
        let stream = self.accept();
        Rig::play(plugged, stream.try_clone().unwrap(), stream)
    }
}

/// Path as an argument.
pub fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// The recording's log as it is on the disk.
pub fn log_of(recording: &Path) -> Vec<u8> {
    std::fs::read(recording.join("frames.log")).unwrap_or_default()
}
