//! The scale that a host tells before the window exists. The framework (nice-plug 0.4.2) refuses
//! it then; standing in front of its function, we keep it for the window to come.

use std::sync::{Arc, Mutex, OnceLock, PoisonError, Weak};

use nice_plug::wrapper::vst3::vst3::ComRef;
use nice_plug::wrapper::vst3::vst3::Steinberg::IPlugViewContentScaleSupport_::ScaleFactor;
use nice_plug::wrapper::vst3::vst3::Steinberg::{
    IPlugView, IPlugViewContentScaleSupport, IPlugViewContentScaleSupportVtbl, kResultFalse,
    kResultOk, tresult,
};

use crate::host_link::HostLink;

/// The framework's functions, and ours in front of them.
struct Tables {
    original: IPlugViewContentScaleSupportVtbl,
    mended: IPlugViewContentScaleSupportVtbl,
}

static TABLES: OnceLock<Tables> = OnceLock::new();

/// The views there are, by their address, and whose they are. Used on the host's window thread.
static VIEWS: Mutex<Vec<(usize, Weak<HostLink>)>> = Mutex::new(Vec::new());

/// Puts our function in front of the framework's.
///
/// # Safety
///
/// `view` is null or a view of the framework's that nobody else has yet.
pub(super) unsafe fn mend(view: *mut IPlugView, link: &Arc<HostLink>) {
    // SAFETY: as promised by the caller.
    let Some(view) = (unsafe { ComRef::from_raw(view) }) else { return };
    let Some(support) = view.cast::<IPlugViewContentScaleSupport>() else { return };
    let support = support.as_ptr();
    // SAFETY: the object is alive, and starts with a pointer to a table that lives as long as the
    // library, as every COM object does; reading the table copies function pointers.
    let original = unsafe { std::ptr::read((*support).vtbl) };
    let tables = TABLES.get_or_init(|| {
        // SAFETY: function pointers are plain data; the copy is as good as the original.
        let copy = unsafe { std::ptr::read(&raw const original) };
        let mended = IPlugViewContentScaleSupportVtbl { setContentScaleFactor: set_scale, ..copy };
        Tables { original, mended }
    });
    // SAFETY: nobody else has the object yet, and the table lives as long as the library. It is
    // the framework's table for this very class but for one function of the same type.
    unsafe { (*support).vtbl = &raw const tables.mended };
    let mut views = VIEWS.lock().unwrap_or_else(PoisonError::into_inner);
    // An address may be used again when its view has gone.
    views.retain(|(address, owner)| *address != support.addr() && owner.strong_count() > 0);
    views.push((support.addr(), Arc::downgrade(link)));
}

unsafe extern "system" fn set_scale(
    this: *mut IPlugViewContentScaleSupport,
    factor: ScaleFactor,
) -> tresult {
    let Some(tables) = TABLES.get() else { return kResultFalse };
    // SAFETY: the arguments are the host's, for this very function.
    let result = unsafe { (tables.original.setContentScaleFactor)(this, factor) };
    let views = VIEWS.lock().unwrap_or_else(PoisonError::into_inner);
    let owner = views.iter().find(|(address, _)| *address == this.addr());
    let link = owner.and_then(|(_, owner)| owner.upgrade());
    drop(views);
    match link {
        Some(link) if link.set_scale(f64::from(factor)) => kResultOk,
        _ => result,
    }
}
