//! `noonfall plan`.

use crate::failure::Failure;
use crate::options::PlanCommand;
use crate::output;
use noonfall_scoring::plan::scaffold;
use noonfall_scoring::profile::PROFILES;
use noonfall_shadow::Kind;

/// Helps with plan files.
pub fn run(command: &PlanCommand) -> Result<(), Failure> {
    match command {
        PlanCommand::New { date, common } => {
            let kernel = common.kernel()?;
            let eclipse = common.eclipse(kernel.get(), *date)?;
            if !matches!(eclipse.kind(), Kind::Total | Kind::Hybrid) {
                return Err(Failure::BadInput(format!(
                    "the eclipse of {date} is {}: there is no totality to stand in; `noonfall list --kind total` lists those with",
                    eclipse.kind()
                )));
            }
            output::data(&scaffold(&eclipse))
        }
        PlanCommand::Profiles { name } => {
            let texts: Vec<String> = PROFILES
                .iter()
                .filter(|p| name.as_deref().is_none_or(|wanted| wanted == p.name))
                .map(|p| p.to_toml())
                .collect();
            output::data(&texts.join("\n"))
        }
    }
}
