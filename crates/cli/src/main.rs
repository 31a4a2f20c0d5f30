//! The command line of noonfall: parses, calls one library function, writes the answer, sets the exit status.
//!
//! [`options`] holds every option once; [`commands`] one short file per command; [`output`] the only places that write;
//! [`failure`] what a failure says and which status it gives.

mod commands;
mod failure;
mod options;
mod output;
mod progress;

use clap::Parser;
use options::Cli;
use std::process::ExitCode;

fn main() -> ExitCode {
    let cli = Cli::parse();
    match commands::run(cli) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => failure.report(),
    }
}
