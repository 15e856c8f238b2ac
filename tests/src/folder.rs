//! A folder for a test's files.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

/// A folder of its own for each test, gone with the test.
pub struct Folder(PathBuf);

impl Folder {
    /// A fresh folder with a name in it that says whose it is.
    ///
    /// # Panics
    ///
    /// When it cannot be made.
    #[must_use]
    pub fn new(name: &str) -> Self {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let count = COUNT.fetch_add(1, Ordering::Relaxed);
        let name = format!("ledgerline-{name}-{}-{count}", std::process::id());
        let path = std::env::temp_dir().join(name);
        std::fs::create_dir_all(&path).expect("a temporary folder");
        Self(path)
    }

    /// A file in it, as it would be typed.
    #[must_use]
    pub fn path(&self, name: &str) -> String {
        self.0.join(name).display().to_string()
    }

    /// A file in it.
    #[must_use]
    pub fn join(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }

    /// A file in it, written with that content.
    ///
    /// # Panics
    ///
    /// When it cannot be written.
    #[must_use]
    pub fn file(&self, name: &str, bytes: &[u8]) -> PathBuf {
        let path = self.join(name);
        std::fs::write(&path, bytes).expect("a file");
        path
    }

    /// The folder itself.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.0
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // What is left over in a temporary folder harms nobody.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}
