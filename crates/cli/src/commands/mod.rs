//! One short file per command.

mod at;
mod brief;
mod check;
mod clouds;
mod list;
mod manual;
mod plan;
mod rank;
mod sunlit;
mod trace;

use crate::failure::Failure;
use crate::options::{Cli, Command};

/// Runs the command that was typed.
pub fn run(cli: Cli) -> Result<(), Failure> {
    match cli.command {
        Command::List(options) => list::run(&options),
        Command::Trace(options) => trace::run(&options),
        Command::At(options) => at::run(&options),
        Command::Check(options) => check::run(&options),
        Command::Rank(options) => rank::run(&options),
        Command::Brief(options) => brief::run(&options),
        Command::Clouds(options) => clouds::run(&options),
        Command::Sunlit(options) => sunlit::run(&options),
        Command::Plan(command) => plan::run(&command),
        Command::Completions { shell } => manual::completions(shell),
        Command::Manual { folder } => manual::pages(&folder),
    }
}
