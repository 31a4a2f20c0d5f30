//! The only places that write: standard output, standard error, and files that are written beside and renamed.
//!
//! What stood there before stays whole until all new files are: a disk that fills, a run that is killed while it works or writes leaves
//! it as it was. Renaming itself takes some milliseconds; a run that is killed in them leaves some files new and some old, each whole.

use crate::failure::Failure;
use noonfall_exchange::terminal::Screen;
use std::collections::HashSet;
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

/// Writes data to standard output piece by piece.
pub fn written(write: impl FnOnce(&mut dyn Write) -> std::io::Result<()>) -> Result<(), Failure> {
    let mut stdout = BufWriter::with_capacity(1 << 18, std::io::stdout().lock());
    let written = write(&mut stdout).and_then(|()| stdout.flush());
    match written {
        Ok(()) => Ok(()),
        Err(error) if error.kind() == ErrorKind::BrokenPipe => {
            // What is left in the buffer has no reader either.
            drop(stdout.into_parts());
            Err(Failure::ReaderGone)
        }
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

/// Files that appear all together or not at all: each is written beside its place, then all are renamed. A link is followed: what it
/// points to is written. Runs that write into the same folder rename one after the other.
#[derive(Default)]
pub struct Batch<'a> {
    files: Vec<(PathBuf, Content<'a>)>,
}

/// Writes a file's bytes, piece by piece.
type Writer<'a> = Box<dyn FnOnce(&mut BufWriter<fs::File>) -> std::io::Result<()> + 'a>;

/// What comes into a file.
enum Content<'a> {
    Bytes(Vec<u8>),
    /// What is too large for memory.
    Written(Writer<'a>),
}

impl<'a> Batch<'a> {
    /// Adds a file.
    pub fn add(&mut self, path: impl Into<PathBuf>, bytes: impl Into<Vec<u8>>) {
        self.files.push((path.into(), Content::Bytes(bytes.into())));
    }

    /// Adds a file that is written piece by piece.
    pub fn write(
        &mut self,
        path: impl Into<PathBuf>,
        writer: impl FnOnce(&mut BufWriter<fs::File>) -> std::io::Result<()> + 'a,
    ) {
        self.files.push((path.into(), Content::Written(Box::new(writer))));
    }

    /// Writes all of them. On a failure what was begun is taken away again, and what stood there before is back.
    pub fn commit(self) -> Result<(), Failure> {
        let mut begun: Vec<Begun> = Vec::new();
        let mut made: Vec<PathBuf> = Vec::new();
        let result = write_beside(self.files, &mut begun, &mut made).and_then(|()| {
            let _turn = turns(&begun);
            remove_leavings(&begun);
            rename(&begun)
        });
        if result.is_err() {
            for file in &begun {
                let _ = fs::remove_file(&file.part);
            }
            // Only folders that we made, and only if they are empty, deepest first.
            for folder in made.iter().rev() {
                let _ = fs::remove_dir(folder);
            }
        }
        result
    }
}

/// A file that is written beside its place.
struct Begun {
    path: PathBuf,
    part: PathBuf,
    /// Held open, and locked: nobody else takes it for what a killed run left.
    _held: Option<fs::File>,
}

fn write_beside(
    files: Vec<(PathBuf, Content<'_>)>,
    begun: &mut Vec<Begun>,
    made: &mut Vec<PathBuf>,
) -> Result<(), Failure> {
    for (named, content) in files {
        let path = landing(&named);
        refuse_folder(&path)?;
        let folder = folder_of(&path);
        make_folder(folder, made).map_err(|error| Failure::cannot_write(folder, &error))?;
        let part = beside(&path, PART);
        begun.push(Begun { path, part: part.clone(), _held: None });
        let written = held(&part).and_then(|file| {
            let mut file = BufWriter::new(file);
            match content {
                Content::Bytes(bytes) => file.write_all(&bytes)?,
                Content::Written(write) => write(&mut file)?,
            }
            file.flush()?;
            file.get_ref().sync_all()?;
            file.into_inner().map_err(std::io::IntoInnerError::into_error)
        });
        let held = written.map_err(|error| Failure::cannot_write(&named, &error))?;
        if let Some(last) = begun.last_mut() {
            last._held = Some(held);
        }
    }
    Ok(())
}

/// Creates a file and holds it. Before it is held another run may take it for what a killed one left, and away; then it is
/// created again.
fn held(part: &Path) -> std::io::Result<fs::File> {
    const MOST_TRIES: usize = 1000;
    for _ in 1..MOST_TRIES {
        let file = fs::File::create(part)?;
        // A file system without locks does without, and nobody there takes anything away.
        if file.lock().is_err() || part.exists() {
            return Ok(file);
        }
    }
    fs::File::create(part)
}

/// The folders that files come to lie in, each once and in one order, so that two runs never wait for each other.
fn folders(files: &[Begun]) -> Vec<&Path> {
    let mut folders: Vec<&Path> = files.iter().map(|f| folder_of(&f.path)).collect();
    folders.sort();
    folders.dedup();
    folders
}

/// Waits until no other run renames files in the same folders. Where a folder cannot be locked, nobody waits.
fn turns(files: &[Begun]) -> Vec<fs::File> {
    let opened = folders(files).into_iter().filter_map(|folder| fs::File::open(folder).ok());
    opened.filter(|folder| folder.lock().is_ok()).collect()
}

/// Takes away what killed runs left beside the files: parts that nobody holds, and second names. Those are given and taken away within
/// a turn, and it is ours.
fn remove_leavings(files: &[Begun]) {
    let named: HashSet<PathBuf> = files.iter().map(|f| f.path.with_file_name(file_name(&f.path))).collect();
    for folder in folders(files) {
        let Ok(entries) = fs::read_dir(folder) else { continue };
        for path in entries.flatten().map(|entry| entry.path()) {
            let Some((name, ending)) = path.file_name().and_then(|n| n.to_str()).and_then(left_by_a_run) else {
                continue;
            };
            if !named.contains(&path.with_file_name(name)) {
                continue;
            }
            match ending {
                BEFORE => _ = fs::remove_file(&path),
                PART => take_away_unheld(&path),
                _ => {}
            }
        }
    }
}

/// Takes away a part that no run holds; held by us meanwhile, so that who has just created it notices.
fn take_away_unheld(part: &Path) {
    if let Some(_held) = fs::File::open(part).ok().filter(|file| file.try_lock().is_ok()) {
        let _ = fs::remove_file(part);
    }
}

/// What a name that a run gave beside a file was given for: the file's name, and the ending.
fn left_by_a_run(name: &str) -> Option<(&str, &str)> {
    let (rest, ending) = name.strip_prefix('.')?.rsplit_once('.')?;
    let (name, process) = rest.rsplit_once('.')?;
    (!process.is_empty() && process.bytes().all(|b| b.is_ascii_digit())).then_some((name, ending))
}

/// Renames all of them, or none.
fn rename(files: &[Begun]) -> Result<(), Failure> {
    let mut kept: Vec<Option<PathBuf>> = Vec::new();
    let mut result = Ok(());
    for file in files {
        // What stands there gets a second name; without one there is no way back.
        let before = beside(&file.path, BEFORE);
        kept.push(fs::hard_link(&file.path, &before).is_ok().then_some(before));
        if let Err(error) = fs::rename(&file.part, &file.path) {
            result = Err(Failure::cannot_write(&file.path, &error));
            break;
        }
    }
    let failed = result.is_err();
    let renamed = kept.len() - usize::from(failed);
    for (i, (file, before)) in files.iter().zip(&kept).enumerate() {
        let _ = match before {
            Some(before) if failed && i < renamed => fs::rename(before, &file.path),
            Some(before) => fs::remove_file(before),
            None if failed && i < renamed => fs::remove_file(&file.path),
            None => Ok(()),
        };
    }
    result
}

/// Where a file that is called so comes to lie: at the end of links, whether there is a file there or not.
fn landing(path: &Path) -> PathBuf {
    const MOST_LINKS: usize = 40;
    let mut at = path.to_owned();
    for _ in 0..MOST_LINKS {
        let Ok(to) = fs::read_link(&at) else { break };
        at = folder_of(&at).join(to);
    }
    at
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
        let path = &landing(path);
        refuse_folder(path)?;
        let folder = folder_of(path);
        let there = folder.ancestors().find(|p| p.as_os_str().is_empty() || p.exists()).unwrap_or(folder);
        let there = if there.as_os_str().is_empty() { Path::new(".") } else { there };
        let part = beside(&there.join(path.file_name().unwrap_or_default()), PART);
        fs::File::create(&part).map_err(|error| Failure::cannot_write(path, &error))?;
        let _ = fs::remove_file(&part);
    }
    Ok(())
}

/// Ending of a file before it is whole.
const PART: &str = "part";
/// Ending of the second name of what stood there before.
const BEFORE: &str = "before";

/// A file's name as far as it is text.
fn file_name(path: &Path) -> String {
    path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default()
}

/// A name beside a file, of this run.
fn beside(path: &Path, ending: &str) -> PathBuf {
    let name = file_name(path);
    path.with_file_name(format!(".{name}.{}.{ending}", std::process::id()))
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
    use std::sync::atomic::{AtomicBool, Ordering};

    /// Against another run that tidies up all the while.
    #[test]
    fn a_part_that_is_held_is_not_taken_away() {
        let folder = tempfile::tempdir().unwrap();
        let (done, tidied) = (AtomicBool::new(false), AtomicBool::new(false));
        let lost: usize = std::thread::scope(|scope| {
            scope.spawn(|| {
                while !done.load(Ordering::Relaxed) {
                    for entry in fs::read_dir(folder.path()).unwrap().flatten() {
                        take_away_unheld(&entry.path());
                    }
                    tidied.store(true, Ordering::Relaxed);
                }
            });
            let lost = |i: usize| {
                let part = folder.path().join(format!(".odds.csv.{i}.part"));
                let file = held(&part).unwrap();
                tidied.store(false, Ordering::Relaxed);
                // Until the other run has been round once, but not for ever.
                for _ in 0..1000 {
                    if tidied.load(Ordering::Relaxed) {
                        break;
                    }
                    std::thread::sleep(std::time::Duration::from_micros(50));
                }
                let there = part.exists();
                drop(file);
                !there
            };
            let lost = (0..200).filter(|&i| lost(i)).count();
            done.store(true, Ordering::Relaxed);
            lost
        });
        assert_eq!(lost, 0);
    }

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

    #[test]
    fn a_rename_that_fails_brings_back_what_stood_there() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::write(at("one.txt"), "old").unwrap();
        let mut batch = Batch::default();
        batch.add(at("one.txt"), "new");
        batch.add(at("two.txt"), "new");
        // While the third is written, its place is taken by a folder that holds something.
        let taken = at("three.txt");
        batch.write(at("three.txt"), move |file| {
            fs::create_dir(&taken)?;
            fs::write(taken.join("kept"), "x")?;
            file.write_all(b"new")
        });
        assert!(batch.commit().is_err());
        assert_eq!(fs::read_to_string(at("one.txt")).unwrap(), "old");
        let mut left: Vec<_> = fs::read_dir(folder.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
        left.sort();
        assert_eq!(left, ["one.txt", "three.txt"]);
    }

    #[test]
    fn what_a_killed_run_left_is_taken_away_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        for name in [".one.txt.1.part", ".one.txt.1.before", ".one.txt.mine.part", ".two.txt.1.part", ".one.txt.2.part"]
        {
            fs::write(at(name), "left").unwrap();
        }
        let other = fs::File::open(at(".one.txt.2.part")).unwrap();
        other.lock().unwrap();
        let mut batch = Batch::default();
        batch.add(at("one.txt"), "1");
        batch.commit().unwrap();
        let mut left: Vec<_> = fs::read_dir(folder.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
        left.sort();
        assert_eq!(left, [".one.txt.2.part", ".one.txt.mine.part", ".two.txt.1.part", "one.txt"]);
    }

    #[cfg(unix)]
    #[test]
    fn a_link_is_followed_and_stays_a_link() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::create_dir(at("far")).unwrap();
        fs::write(at("far/kept.txt"), "old").unwrap();
        for (link, to) in [("link.txt", "far/kept.txt"), ("twice.txt", "link.txt"), ("dangling.txt", "far/new.txt")] {
            std::os::unix::fs::symlink(to, at(link)).unwrap();
        }
        for name in ["twice.txt", "dangling.txt"] {
            let mut batch = Batch::default();
            batch.add(at(name), "new");
            batch.commit().unwrap();
            assert!(at(name).is_symlink());
        }
        assert_eq!(fs::read_to_string(at("far/kept.txt")).unwrap(), "new");
        assert_eq!(fs::read_to_string(at("far/new.txt")).unwrap(), "new");
        assert_eq!(fs::read_dir(at("far")).unwrap().count(), 2);
    }
}
