//! What must be said of a ranking as a whole.

use super::Trip;
use crate::clouds::Clouds;
use crate::outlook::totality::EdgeShown;

impl Trip<'_> {
    pub(super) fn notes(&self, notes: &mut Vec<String>, invented: bool, utc_is_predicted: bool, clouds: &Clouds) {
        if invented {
            notes.push("Some figures are INVENTED demo data: do not plan a trip with them.".to_string());
        }
        notes.push(
            match self.rules.edge_shown() {
                EdgeShown::True => format!(
                    "Second and third contact are those of the Moon's measured edge ({}); {}. The sky decides.",
                    self.rules.heights().source(),
                    crate::outlook::words::window::left_uncertain(self.rules.heights())
                ),
                EdgeShown::Smooth => format!(
                    "Second and third contact are those of a smooth Moon, as handbooks have them: the true edge moves them by seconds. \
                     The window for unaided eyes is decided at the true edge ({}). The sky decides.",
                    self.rules.heights().source()
                ),
            },
        );
        if utc_is_predicted {
            notes.push(
                "UTC is counted with the last known leap second: a new one before the eclipse would move all clocks by a second."
                    .to_string(),
            );
        }
        if clouds.is_empty() {
            notes.push("No cloud file is named: the ranking knows nothing of the weather.".to_string());
        } else {
            for source in clouds.sources() {
                notes.push(format!("Clouds: {}.", source.describe()));
                notes.extend(source.doubt().map(str::to_string));
            }
        }
    }
}
