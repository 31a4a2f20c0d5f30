//! `noonfall completions` and `noonfall manual`, both made from the options themselves.

use crate::failure::Failure;
use crate::options::Cli;
use crate::output::{self, Batch};
use clap::CommandFactory;
use clap_complete::Shell;
use std::path::Path;

/// Completions for a shell.
pub fn completions(shell: Shell) -> Result<(), Failure> {
    let mut text = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), "noonfall", &mut text);
    output::data(&String::from_utf8_lossy(&text))
}

/// A manual page for the program and for each command.
pub fn pages(folder: &Path) -> Result<(), Failure> {
    let mut command = Cli::command();
    command.build();
    let mut batch = Batch::default();
    add_page(&mut batch, folder, command)?;
    batch.commit()
}

fn add_page(batch: &mut Batch, folder: &Path, command: clap::Command) -> Result<(), Failure> {
    // The full name, so that `plan new` becomes noonfall-plan-new(1).
    let name = command.get_display_name().unwrap_or(command.get_name()).to_owned();
    for sub in command.get_subcommands().filter(|s| s.get_name() != "help").cloned() {
        add_page(batch, folder, sub)?;
    }
    let mut page = Vec::new();
    let man = clap_mangen::Man::new(command);
    man.render(&mut page)
        .map_err(|error| Failure::Other(format!("the manual page of {name} could not be made: {error}")))?;
    batch.add(folder.join(format!("{name}.1")), page);
    Ok(())
}
