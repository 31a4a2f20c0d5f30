//! The only places that write: standard output, standard error, and files that are written beside and renamed.

use crate::failure::Failure;
use noonfall_render::terminal::Screen;
use std::fs;
use std::io::{BufWriter, ErrorKind, IsTerminal, Write};
use std::path::{Path, PathBuf};

/// Writes data to standard output.
pub fn data(text: &str) -> Result<(), Failure> {
    let mut stdout = std::io::stdout().lock();
    let written = stdout.write_all(text.as_bytes()).and_then(|()| stdout.flush());
    match written {
        Ok(()) => Ok(()),
        Err(error) if error.kind() == ErrorKind::BrokenPipe => Err(Failure::ReaderGone),
        Err(error) => Err(Failure::Other(format!("standard output cannot be written: {error}"))),
    }
}

/// Whether standard output is a terminal.
pub fn to_terminal() -> bool {
    std::io::stdout().is_terminal()
}

/// The screen that standard output is shown on.
pub fn screen() -> Screen {
    let columns = || terminal_size::terminal_size().map_or(80, |(width, _)| usize::from(width.0).max(20));
    Screen { columns: to_terminal().then(columns) }
}

/// Says something on standard error, unless asked to be quiet.
pub fn note(quiet: bool, text: &str) {
    if !quiet {
        // A terminal that is gone cannot be told.
        let _ = writeln!(std::io::stderr().lock(), "{text}");
    }
}

/// Files that appear all together or not at all: each is written beside its place, then all are renamed.
#[derive(Default)]
pub struct Batch {
    files: Vec<(PathBuf, Content)>,
}

/// Writes a file's bytes, piece by piece.
type Writer = Box<dyn FnOnce(&mut BufWriter<fs::File>) -> std::io::Result<()>>;

/// What comes into a file.
enum Content {
    Bytes(Vec<u8>),
    /// What is too large for memory.
    Written(Writer),
}

impl Batch {
    /// Adds a file.
    pub fn add(&mut self, path: impl Into<PathBuf>, bytes: impl Into<Vec<u8>>) {
        self.files.push((path.into(), Content::Bytes(bytes.into())));
    }

    /// Adds a file that is written piece by piece.
    pub fn write(
        &mut self,
        path: impl Into<PathBuf>,
        writer: impl FnOnce(&mut BufWriter<fs::File>) -> std::io::Result<()> + 'static,
    ) {
        self.files.push((path.into(), Content::Written(Box::new(writer))));
    }

    /// Writes all of them. On a failure what was begun is taken away again.
    pub fn commit(self) -> Result<(), Failure> {
        let mut begun: Vec<PathBuf> = Vec::new();
        let mut made: Vec<PathBuf> = Vec::new();
        let result = write_beside(self.files, &mut begun, &mut made).and_then(|paths| rename(&paths));
        if result.is_err() {
            for part in &begun {
                let _ = fs::remove_file(part);
            }
            // Only folders that we made, and only if they are empty, deepest first.
            for folder in made.iter().rev() {
                let _ = fs::remove_dir(folder);
            }
        }
        result
    }
}

fn write_beside(
    files: Vec<(PathBuf, Content)>,
    begun: &mut Vec<PathBuf>,
    made: &mut Vec<PathBuf>,
) -> Result<Vec<PathBuf>, Failure> {
    let mut paths = Vec::new();
    for (path, content) in files {
        refuse_folder(&path)?;
        let folder = folder_of(&path);
        make_folder(folder, made).map_err(|error| Failure::cannot_write(folder, &error))?;
        let part = beside(&path);
        begun.push(part.clone());
        let written = fs::File::create(&part).and_then(|file| {
            let mut file = BufWriter::new(file);
            match content {
                Content::Bytes(bytes) => file.write_all(&bytes)?,
                Content::Written(write) => write(&mut file)?,
            }
            file.flush()?;
            file.get_ref().sync_all()
        });
        written.map_err(|error| Failure::cannot_write(&path, &error))?;
        paths.push(path);
    }
    Ok(paths)
}

fn rename(paths: &[PathBuf]) -> Result<(), Failure> {
    for path in paths {
        fs::rename(beside(path), path).map_err(|error| Failure::cannot_write(path, &error))?;
    }
    Ok(())
}

fn refuse_folder(path: &Path) -> Result<(), Failure> {
    if path.is_dir() {
        return Err(Failure::BadInput(format!("{}: is a folder; give a file name", path.display())));
    }
    Ok(())
}

fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Tries whether files can be written, before long work: a file is begun beside each and taken away again. Folders that are still to be
/// made are looked for above.
pub fn writable<'a>(paths: impl Iterator<Item = &'a Path>) -> Result<(), Failure> {
    for path in paths {
        refuse_folder(path)?;
        let folder = folder_of(path);
        let there = folder.ancestors().find(|p| p.as_os_str().is_empty() || p.exists()).unwrap_or(folder);
        let there = if there.as_os_str().is_empty() { Path::new(".") } else { there };
        let part = beside(&there.join(path.file_name().unwrap_or_default()));
        fs::File::create(&part).map_err(|error| Failure::cannot_write(path, &error))?;
        let _ = fs::remove_file(&part);
    }
    Ok(())
}

/// The name under which a file is written before it is whole.
fn beside(path: &Path) -> PathBuf {
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    path.with_file_name(format!(".{name}.{}.part", std::process::id()))
}

/// Makes a folder and those above it, remembering which are new.
fn make_folder(folder: &Path, made: &mut Vec<PathBuf>) -> std::io::Result<()> {
    if folder.is_dir() {
        return Ok(());
    }
    if let Some(above) = folder.parent().filter(|p| !p.as_os_str().is_empty()) {
        make_folder(above, made)?;
    }
    fs::create_dir(folder)?;
    made.push(folder.to_owned());
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_batch_that_fails_leaves_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let blocked = folder.path().join("a-file");
        fs::write(&blocked, "x").unwrap();
        let mut batch = Batch::default();
        batch.add(folder.path().join("new/one.txt"), "1");
        batch.add(blocked.join("two.txt"), "2");
        assert!(batch.commit().is_err());
        let left: Vec<_> = fs::read_dir(folder.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
        assert_eq!(left, ["a-file"]);
    }

    #[test]
    fn a_batch_writes_all_and_leaves_no_parts() {
        let folder = tempfile::tempdir().unwrap();
        let mut batch = Batch::default();
        batch.add(folder.path().join("deep/er/one.txt"), "1");
        batch.add(folder.path().join("two.txt"), "2");
        batch.commit().unwrap();
        assert_eq!(fs::read_to_string(folder.path().join("deep/er/one.txt")).unwrap(), "1");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2);
    }
}
