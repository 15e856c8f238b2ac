//! The open window as the framework sees it: the toolkit's, which would draw a frame for every
//! parameter that moves, be it hidden or not. The editor looks at the parameters in each frame
//! anyway.

use nice_plug::editor::dpi::NativeSize;
use nice_plug::editor::{EditorHandle, ParentWindowHandle};
use nice_plug_egui::{EguiEditorHandle, baseview};

/// The handle of one window.
pub struct LedgerlineHandle(pub(super) EguiEditorHandle);

impl EditorHandle for LedgerlineHandle {
    type Window = baseview::Window;
    type Error = baseview::Error;

    fn run_until_closed(window: Self::Window) -> Result<(), Self::Error> {
        EguiEditorHandle::run_until_closed(window)
    }

    fn set_parent(
        &self,
        parent: ParentWindowHandle,
        window: &Self::Window,
    ) -> Result<(), Self::Error> {
        self.0.set_parent(parent, window)
    }

    fn show(&self, window: &Self::Window) -> Result<(), Self::Error> {
        self.0.show(window)
    }

    fn hide(&self, window: &Self::Window) -> Result<(), Self::Error> {
        self.0.hide(window)
    }

    fn set_size(&self, size: NativeSize<u32>, window: &Self::Window) -> Result<(), Self::Error> {
        self.0.set_size(size, window)
    }

    fn host_main_thread_callback(&self, window: &Self::Window) {
        self.0.host_main_thread_callback(window);
    }

    fn adjust_size(&self, size: NativeSize<u32>, window: &Self::Window) -> Option<NativeSize<u32>> {
        self.0.adjust_size(size, window)
    }

    fn set_fallback_scale_factor(
        &self,
        scale: f64,
        window: &Self::Window,
    ) -> Result<(), Self::Error> {
        self.0.set_fallback_scale_factor(scale, window)
    }

    fn param_value_changed(&self, _id: &str, _normalized: f32) {}

    fn param_modulation_changed(&self, _id: &str, _offset: f32) {}
}
