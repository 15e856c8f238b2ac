//! A file of whole lines. Where a line cannot be written to its end, as on a full disk, the file is
//! cut back to the end of the line before.

use std::fs::{File, OpenOptions};
use std::io::{Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// What lines are written to: a file, or in tests something that fails.
pub(super) trait Medium: Write + Send {
    /// Cuts everything behind a length in bytes off; what is written next goes there.
    fn cut_to(&mut self, length: u64) -> std::io::Result<()>;
}

impl Medium for File {
    fn cut_to(&mut self, length: u64) -> std::io::Result<()> {
        self.set_len(length)?;
        self.seek(SeekFrom::Start(length)).map(drop)
    }
}

/// A file that only ever holds whole lines.
pub(super) struct LineFile<M = File> {
    path: PathBuf,
    medium: M,
    /// Length of all whole lines, in bytes.
    whole_bytes: u64,
    /// Whether part of a line may stand behind them.
    torn: bool,
}

impl LineFile {
    /// A new file.
    pub fn create(path: PathBuf) -> std::io::Result<Self> {
        let file = OpenOptions::new().write(true).create_new(true).open(&path)?;
        Ok(Self::on(path, file))
    }

    /// Whether the file is still to be found where it was made.
    pub fn is_there(&self) -> bool {
        self.path.exists()
    }
}

impl<M: Medium> LineFile<M> {
    /// Lines on an empty medium.
    pub fn on(path: PathBuf, medium: M) -> Self {
        Self { path, medium, whole_bytes: 0, torn: false }
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Writes a line with its end, or nothing.
    ///
    /// # Errors
    ///
    /// When it cannot be written whole. It can be tried again.
    pub fn append(&mut self, line: &[u8]) -> std::io::Result<()> {
        self.mend()?;
        self.torn = true;
        if let Err(error) = self.medium.write_all(line) {
            // The reason is that of the line; a cut that fails is tried before the next line.
            let _ = self.mend();
            return Err(error);
        }
        self.torn = false;
        self.whole_bytes += line.len() as u64;
        Ok(())
    }

    fn mend(&mut self) -> std::io::Result<()> {
        if self.torn {
            self.medium.cut_to(self.whole_bytes)?;
            self.torn = false;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A disk of a certain size, which may refuse to be cut.
    struct Disk {
        bytes: Vec<u8>,
        size: usize,
        cuts: bool,
    }

    impl Write for Disk {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            let length = bytes.len().min(self.size - self.bytes.len());
            if length == 0 {
                return Err(std::io::ErrorKind::StorageFull.into());
            }
            self.bytes.extend_from_slice(&bytes[..length]);
            Ok(length)
        }

        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    impl Medium for Disk {
        fn cut_to(&mut self, length: u64) -> std::io::Result<()> {
            if !self.cuts {
                return Err(std::io::ErrorKind::Other.into());
            }
            self.bytes.truncate(length as usize);
            Ok(())
        }
    }

    #[test]
    fn a_full_disk_leaves_whole_lines_and_more_follow_when_there_is_space() {
        let disk = Disk { bytes: Vec::new(), size: 10, cuts: true };
        let mut lines = LineFile::on(PathBuf::new(), disk);
        lines.append(b"first\n").unwrap();
        assert!(lines.append(b"second\n").is_err());
        assert_eq!(lines.medium.bytes, b"first\n");
        lines.medium.size = 20;
        lines.append(b"third\n").unwrap();
        assert_eq!(lines.medium.bytes, b"first\nthird\n");
    }

    #[test]
    fn what_could_not_be_cut_off_is_cut_off_before_the_next_line() {
        let disk = Disk { bytes: Vec::new(), size: 10, cuts: false };
        let mut lines = LineFile::on(PathBuf::new(), disk);
        lines.append(b"first\n").unwrap();
        assert!(lines.append(b"second\n").is_err());
        lines.medium.size = 20;
        assert!(lines.append(b"third\n").is_err(), "behind half a line");
        lines.medium.cuts = true;
        lines.append(b"fourth\n").unwrap();
        assert_eq!(lines.medium.bytes, b"first\nfourth\n");
    }
}
