//! Whether what was read fits together: criteria and the columns that they need, names that the plan gives.

use crate::criteria;
use crate::fault::{Fault, Faults};
use crate::input::sites::Sites;
use crate::plan::Plan;
use crate::search;

/// The further columns of which a plan wants numbers, each with the key that says so and the key's line.
pub(super) fn asked_of_columns(plan: &Plan) -> impl Iterator<Item = (String, &String, Option<u64>)> {
    let weights = plan.weights.iter().map(|w| (format!("weights.{}", w.criterion), &w.criterion, w.line));
    let requirements = plan.requirements.iter().map(|r| (format!("require.{}", r.key), &r.criterion, r.line));
    let wishes = plan.wishes.iter().map(|(name, w)| (format!("wish.{name}"), name, w.line));
    weights.chain(requirements).chain(wishes).filter(|(_, name, _)| criteria::built_in(name).is_none())
}

/// Whether the columns that a plan speaks of exist and hold numbers; `named` knows the names of the sites.
pub(super) fn check_columns(plan: &Plan, sites: Option<&Sites>, named: impl Fn(&str) -> bool, faults: &mut Faults) {
    let empty = Sites::default();
    let Some(sites) = sites.or((plan.search.is_some() && plan.sites.is_none()).then_some(&empty)) else { return };
    let known: Vec<&str> =
        criteria::BUILT_IN.iter().map(|c| c.name).chain(sites.columns.iter().map(String::as_str)).collect();
    for (key, name, line) in asked_of_columns(plan) {
        let Some(column) = sites.column(name) else {
            let right = match crate::plan::nearest(name, known.iter().copied()) {
                Some(near) => format!("did you mean {near}? Known: {}", known.join(", ")),
                None => format!("known: {}", known.join(", ")),
            };
            let wrong = format!("{name} is neither a criterion nor a column of the sites");
            faults.0.push(Fault::of_key(&plan.file, line, key, wrong, right));
            continue;
        };
        let words = sites.rows.iter().filter_map(|row| row.word_for_a_number(&sites.file, (column, name), &key));
        faults.0.extend(words);
    }
    if plan.search.is_some() {
        let terrain = plan.terrain.dir.is_some();
        for weight in plan.weights.iter().filter(|w| w.weight > 0.0 && !search::can_score(&w.criterion, terrain)) {
            if plan.wishes.get(&weight.criterion).is_none_or(|w| w.missing.is_none()) {
                let right = format!(
                    "say in wish.{}.missing what a searched place is worth there (0 to 1), or set the weight to 0",
                    weight.criterion
                );
                let wrong = format!("places found by [search] have no {}", weight.criterion);
                let key = format!("weights.{}", weight.criterion);
                faults.0.push(Fault::of_key(&plan.file, weight.line, key, wrong, right));
            }
        }
    }
    if let Some((one, other)) = &plan.output.compare {
        for name in [one, other].into_iter().filter(|n| !named(n)) {
            let near = crate::plan::nearest(name, sites.rows.iter().map(|r| r.name.as_str()));
            let right = near.map_or("give the name of a site".to_string(), |n| format!("did you mean {n}?"));
            let wrong = format!("\"{name}\" is not one of the sites");
            faults.0.push(Fault::of_key(&plan.file, None, "output.compare", wrong, right));
        }
    }
}
