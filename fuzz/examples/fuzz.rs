//! The long run: `fuzz TARGET SECONDS [SEED]`, or `fuzz list`. `tests/fuzz.sh` adds limits of memory.

// A tool for the terminal; an example, so that no build puts a second program beside noonfall.
#![allow(clippy::print_stdout, clippy::print_stderr)]

use std::process::ExitCode;
use std::time::Duration;

use noonfall_fuzz::run::{Until, run};
use noonfall_fuzz::targets::all;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let number = |i: usize, or: u64| arguments.get(i).map_or(Some(or), |t| t.parse().ok());
    let targets = all();
    let target = arguments.first().and_then(|name| targets.iter().find(|t| t.name == name));
    let (Some(target), Some(seconds), Some(seed)) = (target, number(1, 10), number(2, 1)) else {
        println!("fuzz TARGET SECONDS [SEED]; targets:");
        targets.iter().for_each(|t| println!("{}", t.name));
        return if arguments.first().is_some_and(|a| a == "list") { ExitCode::SUCCESS } else { ExitCode::from(2) };
    };
    // A folder that stays, so that a file that ends the process can be found: by hang, by memory, by stack.
    let folder = std::env::temp_dir().join(format!("noonfall-fuzz-{}-{}", target.name, std::process::id()));
    let outcome = std::fs::create_dir_all(&folder)
        .and_then(|()| run(target, &folder, seed, Until::Time(Duration::from_secs(seconds))));
    let tally = match outcome {
        Ok(tally) => tally,
        Err(e) => {
            eprintln!("{}: {e}", target.name);
            return ExitCode::FAILURE;
        }
    };
    let _ = std::fs::remove_dir_all(&folder);
    println!(
        "{}: {} files, {} accepted, {} different outcomes, {} panics, slowest {:.2} s",
        target.name,
        tally.cases,
        tally.accepted,
        tally.outcomes.len(),
        tally.panics.len(),
        tally.slowest.as_secs_f64()
    );
    for (i, (words, bytes)) in tally.panics.iter().enumerate() {
        let file = target.corpus().join(format!("found-{seed}-{i}"));
        println!("  {}\n  kept as {}", words.chars().take(300).collect::<String>(), file.display());
        if let Err(e) = std::fs::create_dir_all(target.corpus()).and_then(|()| std::fs::write(&file, bytes)) {
            eprintln!("{}: {e}", file.display());
        }
    }
    if tally.panics.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
