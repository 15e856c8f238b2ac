//! A folder of its own for each test.

use std::path::{Path, PathBuf};

/// Gone when the test has ended.
pub struct Folder(PathBuf);

impl Folder {
    pub fn new(name: &str) -> Self {
        let name = format!("ledgerline-formats-{name}-{}", std::process::id());
        let path = std::env::temp_dir().join(name);
        std::fs::create_dir_all(&path).expect("a temporary folder");
        Self(path)
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }

    /// A file with that content.
    pub fn file(&self, name: &str, bytes: &[u8]) -> PathBuf {
        let path = self.path(name);
        std::fs::write(&path, bytes).expect("a file");
        path
    }

    pub fn as_path(&self) -> &Path {
        &self.0
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}
