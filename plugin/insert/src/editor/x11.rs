//! What the editor asks of its window on X11, beyond what the toolkit offers: whether it can be
//! seen, whether it wants keys, and who has the keyboard.

// The toolkit hands out its connection as a raw pointer.
#![allow(unsafe_code)]

use nice_plug_egui::Frame;
use raw_window_handle::{HasDisplayHandle, HasWindowHandle, RawDisplayHandle, RawWindowHandle};
use x11rb::connection::Connection;
use x11rb::errors::ReplyError;
use x11rb::protocol::xproto::{
    Atom, AtomEnum, ChangeWindowAttributesAux, ConnectionExt, EventMask, InputFocus, MapState,
    Window,
};
use x11rb::xcb_ffi::XCBConnection;
use x11rb::{CURRENT_TIME, NONE};

/// The editor's window on the toolkit's own connection, during one frame. What a client wants of a
/// window's events is kept by connection, so another would not do.
struct Native {
    connection: XCBConnection,
    window: Window,
}

impl Native {
    /// The window that is being drawn.
    fn of(frame: &Frame) -> Option<Self> {
        let toolkit = frame.baseview_window();
        let window = match toolkit.window_handle().ok()?.as_raw() {
            RawWindowHandle::Xlib(handle) => Window::try_from(handle.window).ok()?,
            RawWindowHandle::Xcb(handle) => handle.window.get(),
            _ => return None,
        };
        let platform = toolkit.platform_handle();
        let RawDisplayHandle::Xcb(display) = platform.display_handle().ok()?.as_raw() else {
            return None;
        };
        // SAFETY: the connection is the window's, and outlives the frame; this is dropped within
        // it and does not close the connection.
        let connection = unsafe {
            XCBConnection::from_raw_xcb_connection(display.connection?.as_ptr(), false).ok()?
        };
        Some(Self { connection, window })
    }

    /// Whether the window and all around it are mapped: a host that is minimised unmaps its own.
    fn is_viewable(&self) -> Result<bool, ReplyError> {
        let attributes = self.connection.get_window_attributes(self.window)?.reply()?;
        Ok(attributes.map_state == MapState::VIEWABLE)
    }

    /// Asks for keys, or no longer. Keys that nobody asks for here go to the host's window around.
    fn want_keys(&self, wanted: bool) -> Result<(), ReplyError> {
        let now = self.connection.get_window_attributes(self.window)?.reply()?.your_event_mask;
        let keys = EventMask::KEY_PRESS | EventMask::KEY_RELEASE;
        let mask = if wanted { now | keys } else { now.remove(keys) };
        let changes = ChangeWindowAttributesAux::new().event_mask(mask);
        self.connection.change_window_attributes(self.window, &changes)?.check()
    }

    /// The window that has the keyboard.
    fn focus(&self) -> Result<Window, ReplyError> {
        Ok(self.connection.get_input_focus()?.reply()?.focus)
    }

    /// Gives the keyboard to where it was, or to the host's window where that was elsewhere: in
    /// another program, before the click that brought the host's window to the front.
    fn give_back(&self, former: Option<Window>) -> Result<(), ReplyError> {
        let (outermost, client) = self.around(self.window)?;
        let former = former
            .filter(|&former| self.around(former).is_ok_and(|(around, _)| around == outermost));
        let target = former.unwrap_or(client);
        self.connection.set_input_focus(InputFocus::PARENT, target, CURRENT_TIME)?.check()?;
        Ok(self.connection.flush()?)
    }

    /// The outermost window around one, which may be the window manager's, and the outermost of the
    /// program's own, which carries the window manager's mark (ICCCM 4.1.3.1).
    fn around(&self, window: Window) -> Result<(Window, Window), ReplyError> {
        let mark = self.connection.intern_atom(true, b"WM_STATE")?.reply()?.atom;
        let (mut outermost, mut client) = (window, None);
        loop {
            if self.has(outermost, mark)? {
                client = Some(outermost);
            }
            let tree = self.connection.query_tree(outermost)?.reply()?;
            if tree.parent == tree.root || tree.parent == NONE {
                return Ok((outermost, client.unwrap_or(outermost)));
            }
            outermost = tree.parent;
        }
    }

    fn has(&self, window: Window, property: Atom) -> Result<bool, ReplyError> {
        if property == NONE {
            return Ok(false);
        }
        let answer = self.connection.get_property(false, window, property, AtomEnum::ANY, 0, 0)?;
        Ok(answer.reply()?.type_ != NONE)
    }
}

/// Whether the window that is being drawn is known to be hidden.
pub(super) fn is_hidden(frame: &Frame) -> bool {
    Native::of(frame).is_some_and(|native| native.is_viewable().is_ok_and(|viewable| !viewable))
}

/// The keyboard as one window shares it with its host.
#[derive(Default)]
pub(super) struct Keyboard {
    /// Whether the window has been asked to want keys; `None` before the first frame.
    wanted: Option<bool>,
    /// Who had the keyboard while it was not ours.
    former: Option<Window>,
}

impl Keyboard {
    /// Lets the window want keys while the user types, and gives the keyboard back otherwise.
    pub(super) fn share(&mut self, frame: &Frame, typing: bool, hovered: bool) {
        let focused = frame.baseview_window().has_focus();
        if self.wanted == Some(typing) && !hovered && !focused {
            return;
        }
        let Some(native) = Native::of(frame) else { return };
        if self.wanted != Some(typing) && native.want_keys(typing).is_ok() {
            self.wanted = Some(typing);
        }
        match native.focus() {
            Ok(focus) if focus == native.window && typing => {}
            Ok(focus) if focus == native.window => {
                // A window that is going away answers with an error, and needs no keyboard.
                let _ = native.give_back(self.former);
            }
            // Below are "nobody" and "whichever window the pointer is over".
            Ok(focus) if focus > Window::from(u8::from(InputFocus::POINTER_ROOT)) => {
                self.former = Some(focus);
            }
            _ => {}
        }
    }
}
