//! A desktop of its own for a test: an X server without a screen (`Xvfb`), a window manager
//! (`openbox`), a mouse and a keyboard (`xdotool`), and a host's window that counts its keys.

use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use x11rb::connection::Connection;
use x11rb::protocol::Event;
use x11rb::protocol::xproto::{
    AtomEnum, ConnectionExt, CreateWindowAux, EventMask, PropMode, WindowClass,
};
use x11rb::rust_connection::RustConnection;
use x11rb::wrapper::ConnectionExt as _;

/// How long a desktop may take to answer.
const PATIENCE: Duration = Duration::from_secs(60);
/// How long what was done takes to reach everyone: several frames.
const SETTLING: Duration = Duration::from_millis(700);

/// The desktop on the display that `DISPLAY` names. It ends with this.
pub struct Desktop {
    server: Child,
    manager: Child,
    display: String,
}

/// A host's window, which counts the keys that are pressed in it.
pub struct HostWindow {
    connection: RustConnection,
    window: u32,
    keys: usize,
}

impl Desktop {
    /// Starts one.
    ///
    /// # Panics
    ///
    /// When the programs are not there, or do not answer.
    #[must_use]
    pub fn start() -> Self {
        let display = std::env::var("DISPLAY").expect("a display to start");
        let start = |program: &str, arguments: &[&str]| {
            Command::new(program)
                .args(arguments)
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .spawn()
                .unwrap_or_else(|error| panic!("{program}: {error}"))
        };
        // A server that began anew when its last client went would reset the next one.
        let server = start("Xvfb", &[&display, "-noreset", "-screen", "0", "1600x1200x24"]);
        let deadline = Instant::now() + PATIENCE;
        while x11rb::connect(Some(&display)).is_err() {
            assert!(Instant::now() < deadline, "the X server does not answer");
            std::thread::sleep(Duration::from_millis(50));
        }
        let manager = start("openbox", &[]);
        Self { server, manager, display }
    }

    /// Opens a host's window and waits until it is there and has the keyboard.
    ///
    /// # Panics
    ///
    /// When it does not come.
    #[must_use]
    pub fn host_window(&self, width: u16, height: u16) -> HostWindow {
        let (connection, screen) = x11rb::connect(Some(&self.display)).expect("the X server");
        let root = &connection.setup().roots[screen];
        let window = connection.generate_id().expect("a number");
        let events = EventMask::KEY_PRESS | EventMask::STRUCTURE_NOTIFY;
        connection
            .create_window(
                root.root_depth,
                window,
                root.root,
                0,
                0,
                width,
                height,
                0,
                WindowClass::INPUT_OUTPUT,
                root.root_visual,
                &CreateWindowAux::new().event_mask(events),
            )
            .expect("a window");
        let name = b"a host";
        connection
            .change_property8(PropMode::REPLACE, window, AtomEnum::WM_NAME, AtomEnum::STRING, name)
            .expect("a name");
        let mut host = HostWindow { connection, window, keys: 0 };
        host.map();
        host
    }

    /// Moves the pointer to a place in a window.
    pub fn point(&self, window: u32, [x, y]: [i32; 2]) {
        let (window, x, y) = (window.to_string(), x.to_string(), y.to_string());
        self.run(&["mousemove", "--window", &window, &x, &y]);
    }

    /// Presses and releases the left button.
    pub fn click(&self) {
        self.run(&["click", "1"]);
    }

    /// Presses and releases a key, which goes to whomever it belongs.
    pub fn press(&self, key: &str) {
        self.run(&["key", key]);
    }

    fn run(&self, words: &[&str]) {
        let status = Command::new("xdotool").args(words).env("DISPLAY", &self.display).status();
        assert!(status.is_ok_and(|status| status.success()), "xdotool {words:?}");
        std::thread::sleep(SETTLING);
    }
}

impl Drop for Desktop {
    fn drop(&mut self) {
        for program in [&mut self.manager, &mut self.server] {
            let _ = program.kill();
            let _ = program.wait();
        }
    }
}

impl HostWindow {
    /// The window's number.
    #[must_use]
    pub fn number(&self) -> u32 {
        self.window
    }

    /// Shows the window.
    pub fn map(&mut self) {
        self.connection.map_window(self.window).expect("a connection");
        self.connection.flush().expect("a connection");
        std::thread::sleep(SETTLING);
    }

    /// Takes the window away, as minimising does.
    pub fn unmap(&mut self) {
        self.connection.unmap_window(self.window).expect("a connection");
        self.connection.flush().expect("a connection");
        std::thread::sleep(SETTLING);
    }

    /// How many keys have been pressed in the window, or in one inside it that did not want them.
    pub fn keys(&mut self) -> usize {
        while let Some(event) = self.connection.poll_for_event().expect("a connection") {
            self.keys += usize::from(matches!(event, Event::KeyPress(_)));
        }
        self.keys
    }
}
