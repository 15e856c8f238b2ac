//! The browser's process, its folder and its pipes.

use std::fs::File;
use std::io::{BufRead, BufReader, Write};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

use serde_json::Value;

/// Starts the browser with its pipes where it expects them, at descriptors 3 and 4. Named pipes let
/// a shell put them there; nothing here has to.
const START: &str = r#"mkfifo "$1/to" "$1/from" && exec chromium --headless --no-sandbox \
--disable-gpu --disable-quic --no-first-run --disable-background-networking \
--disable-component-update --disable-sync --disable-default-apps --hide-scrollbars \
--font-render-hinting=none --user-data-dir="$1/profile" --remote-debugging-pipe \
3<"$1/to" 4>"$1/from""#;

/// How long the browser may take to come up.
const PATIENCE: Duration = Duration::from_secs(30);

/// A browser that ends with this value.
pub(super) struct Process {
    child: Child,
    to: File,
    from: BufReader<File>,
    folder: PathBuf,
}

impl Process {
    pub(super) fn start() -> Self {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let count = COUNT.fetch_add(1, Ordering::Relaxed);
        let name = format!("ledgerline-browser-{}-{count}", std::process::id());
        let folder = std::env::temp_dir().join(name);
        std::fs::create_dir_all(&folder).expect("a temporary folder");
        let mut child = Command::new("sh")
            .args(["-c", START, "sh"])
            .arg(&folder)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("a shell");
        let started = Instant::now();
        while !folder.join("from").exists() {
            let ended = child.try_wait().expect("a child's state");
            assert!(ended.is_none(), "chromium did not start: is it installed?");
            assert!(started.elapsed() < PATIENCE, "chromium did not start");
            std::thread::sleep(Duration::from_millis(10));
        }
        // Each waits for the other end, in the order in which the shell opens them.
        let to = File::options().write(true).open(folder.join("to")).expect("a pipe");
        let from = File::open(folder.join("from")).expect("a pipe");
        Self { child, to, from: BufReader::new(from), folder }
    }

    pub(super) fn send(&mut self, message: &Value) {
        let mut bytes = message.to_string().into_bytes();
        bytes.push(0);
        self.to.write_all(&bytes).expect("the browser listens");
    }

    pub(super) fn receive(&mut self) -> Value {
        let mut bytes = vec![];
        self.from.read_until(0, &mut bytes).expect("the browser answers");
        assert_eq!(bytes.pop(), Some(0), "the browser ended: is chromium installed?");
        serde_json::from_slice(&bytes).expect("a message")
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        // It may have ended by itself.
        let _ = self.child.kill();
        let _ = self.child.wait();
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}
