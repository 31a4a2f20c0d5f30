//! Case by case.

use std::collections::BTreeSet;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;

use crate::mutate::{below, mutate};
use crate::target::{Target, essence};

/// No case may take longer.
pub const LONGEST_S: u64 = 10;
/// Status of a process that the watch ends.
pub const HUNG: i32 = 77;
/// Files kept as starts at most, and their bytes together.
const POOL: usize = 600;
const POOL_BYTES: usize = 64 << 20;

/// When to stop.
#[derive(Clone, Copy, Debug)]
pub enum Until {
    /// After so many cases.
    Cases(u64),
    /// After so long.
    Time(Duration),
}

/// What a run met.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tally {
    /// Files read.
    pub cases: u64,
    /// Of these, files that were accepted.
    pub accepted: u64,
    /// Different outcomes, by their words.
    pub outcomes: BTreeSet<String>,
    /// What panicked: the panic's words and the file.
    pub panics: Vec<(String, Vec<u8>)>,
    /// The longest case.
    pub slowest: Duration,
}

/// Ends the process when a case takes too long; the file that did it stays in the run's folder.
struct Watch {
    started_ms: Arc<AtomicU64>,
    done: Arc<AtomicBool>,
    begin: Instant,
}

impl Watch {
    fn new(name: &'static str) -> Watch {
        let watch = Watch { started_ms: Arc::default(), done: Arc::default(), begin: Instant::now() };
        let (started, done, begin) = (watch.started_ms.clone(), watch.done.clone(), watch.begin);
        std::thread::spawn(move || {
            while !done.load(Ordering::Relaxed) {
                std::thread::sleep(Duration::from_millis(250));
                let since = started.load(Ordering::Relaxed);
                if since > 0 && begin.elapsed().as_millis() as u64 > since + LONGEST_S * 1000 {
                    #[allow(clippy::print_stderr)]
                    {
                        eprintln!("{name}: a case takes longer than {LONGEST_S} s; its file is in the run's folder");
                    }
                    std::process::exit(HUNG);
                }
            }
        });
        watch
    }

    fn start(&self) {
        self.started_ms.store((self.begin.elapsed().as_millis() as u64).max(1), Ordering::Relaxed);
    }
}

impl Drop for Watch {
    fn drop(&mut self) {
        self.done.store(true, Ordering::Relaxed);
    }
}

/// Reads the good files as they are, then damaged ones, in a folder that is the run's own.
///
/// # Errors
/// A seed that cannot be read, a case that cannot be written.
pub fn run(target: &Target, folder: &Path, seed: u64, until: Until) -> std::io::Result<Tally> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let path = folder.join(target.file);
    for (name, bytes) in (target.beside)() {
        std::fs::write(folder.join(name), bytes)?;
    }
    let watch = Watch::new(target.name);
    let mut tally = Tally::default();
    let mut pool: Vec<Vec<u8>> = target.starts()?.into_iter().map(|s| s.1).collect();
    let case = |bytes: &[u8], tally: &mut Tally| -> std::io::Result<bool> {
        std::fs::write(&path, bytes)?;
        let begin = Instant::now();
        watch.start();
        let outcome = catch_unwind(AssertUnwindSafe(|| (target.read)(&path)));
        tally.slowest = tally.slowest.max(begin.elapsed());
        tally.cases += 1;
        Ok(match outcome {
            Ok(words) => {
                tally.accepted += u64::from(words.starts_with("read"));
                tally.outcomes.insert(essence(&words))
            }
            Err(cause) => {
                let words = cause
                    .downcast_ref::<String>()
                    .cloned()
                    .or_else(|| cause.downcast_ref::<&str>().map(|s| (*s).to_owned()))
                    .unwrap_or_default();
                let new = tally.outcomes.insert(format!("PANIC {}", essence(&words)));
                if new {
                    tally.panics.push((words, bytes.to_vec()));
                }
                false
            }
        })
    };
    for good in &pool {
        case(good, &mut tally)?;
    }
    let goods = pool.len();
    let begin = Instant::now();
    loop {
        match until {
            Until::Cases(n) if tally.cases >= n => break,
            Until::Time(t) if begin.elapsed() >= t => break,
            _ => {}
        }
        // Every other case starts from a good file: what was met on the way is mostly bad already.
        let among = if below(&mut rng, 2) == 0 { goods } else { pool.len() };
        let Some(mut bytes) = pool.get(below(&mut rng, among)).cloned() else { break };
        mutate(&mut rng, &mut bytes, &pool, target.words);
        let held: usize = pool.iter().map(Vec::len).sum();
        if case(&bytes, &mut tally)? && pool.len() < POOL && held + bytes.len() < POOL_BYTES {
            pool.push(bytes);
        }
    }
    Ok(tally)
}
