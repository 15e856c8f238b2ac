//! Who gets the keys: the host, its transport above all, except while the user types here.
//!
//! The toolkit (egui-baseview 0.9, baseview 0.4) takes the keyboard at every click, and on X11 and
//! Windows keeps what it does not use. On X11 the keys also come while the host's window has the
//! keyboard and the pointer stands over ours, since X looks for a window that wants them from the
//! pointer outwards. So, while nobody types, our window does not ask for keys at all ([`x11`]), and
//! the keyboard goes back to where it was before the click.

use nice_plug_egui::{Frame, KeyCapture};

#[cfg(target_os = "linux")]
use super::x11;

/// Who has the keys of one window.
#[derive(Default)]
pub(super) struct Keys {
    /// Whether the user was typing when the last frame was drawn.
    typing: bool,
    #[cfg(target_os = "linux")]
    x11: x11::Keyboard,
}

impl Keys {
    /// Gives the keys to whom they belong. To be called in every frame.
    pub(super) fn share(&mut self, ctx: &egui::Context, frame: &mut Frame) {
        let typing = ctx.egui_wants_keyboard_input();
        frame.set_key_capture(if typing { KeyCapture::CaptureAll } else { KeyCapture::IgnoreAll });
        let clicked = ctx.input(|input| input.pointer.any_pressed());
        if typing && (clicked || !self.typing) {
            // A window inside a host's may take itself for focused while the host's own has the
            // keys: on X11, whenever the host's gets them with the pointer over ours.
            ctx.send_viewport_cmd(egui::ViewportCommand::Focus);
        }
        self.typing = typing;
        #[cfg(target_os = "linux")]
        {
            let hovered = ctx.input(|input| input.pointer.has_pointer());
            self.x11.share(frame, typing, hovered);
        }
    }
}
