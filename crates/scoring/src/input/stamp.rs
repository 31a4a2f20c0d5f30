//! Whether a file is still the one that was read.

use std::fs::Metadata;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use crate::fault::Fault;

/// A file as it was found, to be looked at again when all of it has been used. What was read of a file that changed
/// meanwhile may be of both its states, and its checksum of neither.
#[derive(Debug)]
pub struct Stamped {
    path: PathBuf,
    found: Option<Stamp>,
}

/// What changes when a file is written to or another takes its place.
#[derive(Debug, PartialEq)]
struct Stamp {
    length: u64,
    modified: Option<SystemTime>,
    inode: u64,
}

impl Stamp {
    /// `None` for a folder.
    fn of(metadata: &Metadata) -> Option<Stamp> {
        #[cfg(unix)]
        let inode = std::os::unix::fs::MetadataExt::ino(metadata);
        #[cfg(not(unix))]
        let inode = 0;
        metadata.is_file().then(|| Stamp { length: metadata.len(), modified: metadata.modified().ok(), inode })
    }
}

impl Stamped {
    /// To be made before the file is read. What is no file is never said to have changed: who reads it tells what is
    /// wrong with it, and the tiles of a folder are read when they are needed.
    pub fn of(path: &Path) -> Stamped {
        Stamped { path: path.to_owned(), found: std::fs::metadata(path).ok().as_ref().and_then(Stamp::of) }
    }

    /// What is wrong, if the file has changed, has been replaced or is gone.
    pub fn changed(&self) -> Option<Fault> {
        self.unlike(std::fs::metadata(&self.path).ok().as_ref())
    }

    /// The same, going by a file that was opened and has been kept open: another that took its place does no harm.
    pub fn changed_under(&self, handle: &std::fs::File) -> Option<Fault> {
        self.unlike(handle.metadata().ok().as_ref())
    }

    fn unlike(&self, now: Option<&Metadata>) -> Option<Fault> {
        let found = self.found.as_ref()?;
        (now.and_then(Stamp::of).as_ref() != Some(found)).then(|| {
            let wrong = "changed while it was being used";
            Fault::of_file(self.path.display().to_string(), wrong, "run again when nothing writes to it any more")
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_is_written_to_replaced_or_taken_away_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("s.csv");
        let write = |text: &str| std::fs::write(&path, text).unwrap();
        write("a");
        let stamped = Stamped::of(&path);
        assert!(stamped.changed().is_none());
        write("ab");
        let told = stamped.changed().unwrap().to_string();
        assert!(told.contains("s.csv: changed while it was being used; run again"), "{told}");
        let (stamped, handle) = (Stamped::of(&path), std::fs::File::open(&path).unwrap());
        let other = folder.path().join("other");
        std::fs::write(&other, "cd").unwrap();
        std::fs::rename(&other, &path).unwrap();
        assert!(stamped.changed().is_some());
        // The old one, still open, is as it was but for its name.
        assert!(stamped.changed_under(&handle).is_none());
        let stamped = Stamped::of(&path);
        std::fs::remove_file(&path).unwrap();
        assert!(stamped.changed().is_some());
        // Folders, and what was never there, are for their readers.
        assert!(Stamped::of(folder.path()).changed().is_none() && Stamped::of(&path).changed().is_none());
    }
}
