//! Where the plugin under test is.
//!
//! `LEDGERLINE_BUNDLES` names the folder of the release bundles, as they go to users. Without it,
//! the library that cargo built along with the tests is taken: the debug build, in which the
//! framework aborts on any allocation while it processes.

use std::path::PathBuf;

use crate::hosts::{ClapHost, Host, Vst3Host};

/// Names the folder that holds the bundles.
pub const BUNDLES_VARIABLE: &str = "LEDGERLINE_BUNDLES";

/// Names the archive for users without a toolchain.
pub const ARCHIVE_VARIABLE: &str = "LEDGERLINE_ARCHIVE";

/// Names the program that runs the tasks.
pub const XTASK_VARIABLE: &str = "LEDGERLINE_XTASK";

/// A host that knows its module.
pub trait BuiltFor: Host {
    /// Name of the bundle.
    const BUNDLE: &'static str;

    /// The module under test.
    ///
    /// # Panics
    ///
    /// When it is not there.
    #[must_use]
    fn built() -> PathBuf {
        let module = match bundles() {
            Some(folder) => folder.join(Self::BUNDLE),
            None => library(),
        };
        assert!(module.exists(), "{} is not built", module.display());
        module
    }
}

impl BuiltFor for ClapHost {
    const BUNDLE: &'static str = "ledgerline.clap";
}

impl BuiltFor for Vst3Host {
    const BUNDLE: &'static str = "ledgerline.vst3";
}

/// The folder of the bundles, where they are under test.
#[must_use]
pub fn bundles() -> Option<PathBuf> {
    std::env::var_os(BUNDLES_VARIABLE).map(PathBuf::from)
}

/// The archive under test.
///
/// # Panics
///
/// When nobody named it.
#[must_use]
pub fn archive() -> PathBuf {
    named(ARCHIVE_VARIABLE)
}

/// The program that runs the tasks.
///
/// # Panics
///
/// When nobody named it.
#[must_use]
pub fn xtask() -> PathBuf {
    named(XTASK_VARIABLE)
}

fn named(variable: &str) -> PathBuf {
    std::env::var_os(variable).unwrap_or_else(|| panic!("{variable} is not set")).into()
}

/// The library in the folder of the running test.
fn library() -> PathBuf {
    let test = std::env::current_exe().expect("a running test");
    let name =
        format!("{}ledgerline{}", std::env::consts::DLL_PREFIX, std::env::consts::DLL_SUFFIX);
    test.with_file_name(name)
}
