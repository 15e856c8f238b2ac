//! Where the files of one instance go, and how they begin: the log's, and those that the user
//! saves.

mod folder;
pub(crate) mod name;

use std::path::PathBuf;
use std::sync::{Arc, OnceLock};

pub use folder::{LOG_VARIABLE, forced_folder};

/// A folder, and the instance's number in the names. Clones share the number.
#[derive(Debug, Clone)]
pub struct Destination {
    /// The folder that the environment names, if it does.
    forced: Option<PathBuf>,
    /// This instance's number among those of the process that write files, once it has one.
    instance: Arc<OnceLock<u32>>,
}

impl Destination {
    /// `forced`, or where the platform keeps an application's data.
    #[must_use]
    pub fn new(forced: Option<PathBuf>) -> Self {
        Self { forced, instance: Arc::default() }
    }

    /// Whether the environment names the folder.
    #[must_use]
    pub fn is_forced(&self) -> bool {
        self.forced.is_some()
    }

    /// The folder, which may not be there yet; `None` where the system names none.
    #[must_use]
    pub fn folder(&self) -> Option<PathBuf> {
        self.forced.clone().or_else(folder::default_folder)
    }

    /// This instance's number, from 1 in each process.
    #[must_use]
    pub fn instance(&self) -> u32 {
        *self.instance.get_or_init(name::next_instance)
    }

    /// How the name of a file begins that this instance makes now.
    #[must_use]
    pub fn stem(&self) -> String {
        name::now(self.instance())
    }
}
