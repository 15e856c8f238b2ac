//! Loading of a VST3 module: a bundle folder as the VST 3 API lays it out, or the bare library.
#![allow(unsafe_code, reason = "a shared library has to be loaded, trusted and asked in C")]

use std::ffi::{c_char, c_void};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, Weak};

use libloading::Library;
use vst3::ComPtr;
use vst3::Steinberg::{
    FUnknown, IPluginFactory, IPluginFactory2, IPluginFactory2Trait, IPluginFactoryTrait,
    PClassInfo2, TUID, kResultOk,
};

use crate::hosts::{Description, HostError};

/// Modules of this process: a host initializes each one once, however many instances it makes.
static LOADED: Mutex<Vec<(PathBuf, Weak<Module>)>> = Mutex::new(Vec::new());

/// Folder of the binary within a bundle's `Contents`.
const BINARY_FOLDER: &str = if cfg!(target_os = "windows") {
    if cfg!(target_arch = "aarch64") { "arm64-win" } else { "x86_64-win" }
} else if cfg!(target_os = "macos") {
    "MacOS"
} else if cfg!(target_arch = "aarch64") {
    "aarch64-linux"
} else {
    "x86_64-linux"
};

/// Extension of the binary within a bundle; macOS has none.
const BINARY_EXTENSION: &str = if cfg!(target_os = "windows") {
    "vst3"
} else if cfg!(target_os = "macos") {
    ""
} else {
    "so"
};

/// Names of the functions that open and close a module.
const OPEN_AND_CLOSE: (&[u8], &[u8]) = if cfg!(target_os = "windows") {
    (b"InitDll\0", b"ExitDll\0")
} else if cfg!(target_os = "macos") {
    (b"bundleEntry\0", b"bundleExit\0")
} else {
    (b"ModuleEntry\0", b"ModuleExit\0")
};

/// A loaded module.
pub struct Module {
    /// Declared before the library, whose code releasing it runs.
    factory: Option<ComPtr<IPluginFactory2>>,
    library: Library,
}

impl Module {
    /// Loads a module, or hands out the one that is loaded already.
    pub fn load(path: &Path) -> Result<Arc<Self>, HostError> {
        let mut loaded = LOADED.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        let known = loaded.iter().find(|(known, _)| known == path);
        if let Some(module) = known.and_then(|(_, module)| module.upgrade()) {
            return Ok(module);
        }
        let module = Arc::new(
            Self::open(path).map_err(|reason| HostError::Module { path: path.into(), reason })?,
        );
        loaded.retain(|(_, module)| module.strong_count() > 0);
        loaded.push((path.into(), Arc::downgrade(&module)));
        Ok(module)
    }

    fn open(path: &Path) -> Result<Self, String> {
        // SAFETY: the file is the plugin of this workspace, built for these tests; its
        // initializers do nothing but what the Rust runtime does.
        let library = unsafe { Library::new(binary(path)) }.map_err(|error| error.to_string())?;
        // SAFETY: the API gives the function this type on every system; Linux and macOS pass a
        // handle of the module, which may be null, and Windows ignores the argument.
        let opened = unsafe {
            library
                .get::<extern "system" fn(*mut c_void) -> bool>(OPEN_AND_CLOSE.0)
                .map(|open| open(std::ptr::null_mut()))
        };
        match opened {
            Ok(true) => {}
            Ok(false) => return Err("the module did not open".into()),
            Err(error) => return Err(error.to_string()),
        }
        // SAFETY: the API gives the function this type; what it returns is a reference of ours.
        let factory = unsafe {
            let get = library
                .get::<extern "system" fn() -> *mut IPluginFactory>(b"GetPluginFactory\0")
                .map_err(|error| error.to_string())?;
            ComPtr::from_raw(get())
        };
        let factory = factory
            .and_then(|factory| factory.cast::<IPluginFactory2>())
            .ok_or("the module has no factory")?;
        Ok(Self { factory: Some(factory), library })
    }

    fn factory(&self) -> &ComPtr<IPluginFactory2> {
        self.factory.as_ref().expect("the factory lives as long as the module")
    }

    /// All audio classes.
    pub fn classes(&self) -> Vec<Description> {
        self.class_infos()
            .iter()
            .map(|info| Description {
                id: info.cid.iter().map(|byte| format!("{:02X}", *byte as u8)).collect(),
                name: text(&info.name),
                vendor: text(&info.vendor),
                version: text(&info.version),
                features: text(&info.subCategories).split('|').map(str::to_owned).collect(),
            })
            .collect()
    }

    fn class_infos(&self) -> Vec<PClassInfo2> {
        let factory = self.factory();
        let mut infos = Vec::new();
        // SAFETY: the factory is alive, and the info is a plain structure of numbers for which
        // zeros are valid; the factory fills it in.
        unsafe {
            for index in 0..factory.countClasses() {
                let mut info: PClassInfo2 = std::mem::zeroed();
                if factory.getClassInfo2(index, &mut info) == kResultOk
                    && text(&info.category) == "Audio Module Class"
                {
                    infos.push(info);
                }
            }
        }
        infos
    }

    /// Makes an object of the first audio class.
    pub fn make(&self) -> Result<ComPtr<FUnknown>, HostError> {
        let infos = self.class_infos();
        let class: TUID = infos.first().ok_or(HostError::Refused("class"))?.cid;
        let mut object = std::ptr::null_mut();
        // SAFETY: the factory is alive, both identifiers are 16 bytes long, and on success the
        // object is a reference of ours to the interface that was asked for.
        unsafe {
            let result = self.factory().createInstance(
                class.as_ptr(),
                vst3::Steinberg::FUnknown_iid.as_ptr(),
                &mut object,
            );
            if result != kResultOk {
                return Err(HostError::Refused("instantiation"));
            }
            ComPtr::from_raw(object.cast()).ok_or(HostError::Refused("instantiation"))
        }
    }
}

impl Drop for Module {
    fn drop(&mut self) {
        self.factory = None;
        // SAFETY: the API gives the function this type; every object of the module is released,
        // since each holds the module.
        unsafe {
            if let Ok(close) = self.library.get::<extern "system" fn() -> bool>(OPEN_AND_CLOSE.1) {
                close();
            }
        }
    }
}

/// The library of a bundle, or the path itself where it is a file.
fn binary(path: &Path) -> PathBuf {
    if path.is_file() {
        return path.into();
    }
    let name = path.file_stem().unwrap_or_default();
    path.join("Contents").join(BINARY_FOLDER).join(name).with_extension(BINARY_EXTENSION)
}

/// A text of at most the array's length that ends at its first zero.
fn text(characters: &[c_char]) -> String {
    let bytes: Vec<u8> =
        characters.iter().map(|character| *character as u8).take_while(|byte| *byte != 0).collect();
    String::from_utf8_lossy(&bytes).into_owned()
}
