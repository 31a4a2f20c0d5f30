//! A table of candidates longer than memory, ranked to a table: read row by row, looked at block by block, put in order on disk.
//!
//! Every place is looked at as in a report, and comes where it would come there. Only the best are held: what draws, fallbacks and windows
//! say of them is found at the end, from the same code as for a report.

use std::io::{self, Write};
use std::path::Path;

use rayon::prelude::*;

use super::checks::asked_of_columns;
use super::inputs::{Inputs, Surveyed};
use super::ranking::{MOST_ONE_BY_ONE, Toll, WINDOWS_AMONG_MANY};
use super::{Options, RunError, Trip, UsedKernel, eclipse, kernel};
use crate::assess::{About, Assessed};
use crate::criteria::EclipseScale;
use crate::fallback;
use crate::input::sites::{Asked, Cell, LongTable, SiteRow, Survey};
use crate::outlook::band_outlook::Bands;
use crate::outlook::totality::TotalityRules;
use crate::place::Place;
use crate::plan::{FallbackKeys, Plan};
use crate::progress::Progress;
use crate::rank::{Method, RankedSite, Standing};
use crate::robustness;
use crate::score::Scorer;
use crate::spool::{Run, Spool};
use noonfall_ephemeris::GeoPoint;
use noonfall_shadow::{Eclipse, Site};

/// Tables of more rows than this are long ones.
const LONG: u64 = 20_000;

/// So many of the best are held: as many as take part in the draws.
const HELD: usize = robustness::MOST_SITES;

/// Writes the lines of a ranking.
pub trait Lines: Sync {
    /// The table's head.
    fn head(&self, method: &Method) -> Vec<u8>;
    /// A place's line as far as it follows its rank, added to what is there.
    fn line(&self, rules: &TotalityRules, site: &RankedSite, into: &mut Vec<u8>);
    /// A line with its rank, `None` for a rejected place.
    ///
    /// # Errors
    /// What the writer says.
    fn write(&self, rank: Option<usize>, line: &[u8], out: &mut dyn Write) -> io::Result<()>;
}

/// A long table ranked, its lines still to be written.
#[derive(Debug)]
pub struct LongRanking {
    /// What a reader must know about the figures, a sentence each.
    pub notes: Vec<String>,
    head: Vec<u8>,
    /// The lines of the best, with all that is said of them only.
    best: Vec<Vec<u8>>,
    spool: Spool,
}

impl LongRanking {
    /// Writes all lines in order.
    ///
    /// # Errors
    /// What the writer says; what was put on disk and cannot be read again.
    pub fn write(self, lines: &dyn Lines, out: &mut dyn Write) -> io::Result<()> {
        out.write_all(&self.head)?;
        let mut place = 0;
        let best = self.best;
        self.spool.each(|standing, line| {
            let line = best.get(place).map_or(line, Vec::as_slice);
            place += 1;
            lines.write(standing.is_ranked().then_some(place), line, out)
        })
    }
}

/// Ranks the candidates of a plan where they are one long table and nothing but lines is wanted; `None` where a plan is one for
/// [`super::run`].
///
/// # Errors
/// [`RunError`] with everything that is wrong with the input.
pub fn run_long(
    plan_path: &Path,
    options: &Options,
    progress: &dyn Progress,
    lines: &dyn Lines,
) -> Result<Option<LongRanking>, RunError> {
    run_longer_than(LONG, plan_path, options, progress, lines)
}

/// The same for tables of more rows than so many.
///
/// # Errors
/// As [`run_long`].
pub fn run_longer_than(
    rows: u64,
    plan_path: &Path,
    options: &Options,
    progress: &dyn Progress,
    lines: &dyn Lines,
) -> Result<Option<LongRanking>, RunError> {
    let plan = Plan::read(plan_path)?;
    // A search compares its finds with the rows, a matrix of drives names them: such plans are for tables that are held.
    let held = plan.search.is_some() || plan.fallback.drive_hours.is_some();
    let Some(keys) = plan.sites.as_ref().filter(|keys| keys.towns.is_none() && !held) else { return Ok(None) };
    let [file] = keys.files.as_slice() else { return Ok(None) };
    let Some(mut table) = LongTable::open(&plan.resolve(file), rows)? else { return Ok(None) };

    let used = kernel(&plan, options)?.map_or(UsedKernel::Embedded, |kernel| UsedKernel::File(Box::new(kernel)));
    let eclipse = eclipse(&plan, options, used.get())?;
    let survey = survey(&plan, &eclipse, &mut table, keys.limit_of_a_table());
    let (count, greatest) = survey.as_ref().map_or((0, 0.0), |s| (s.count, s.greatest));
    let surveyed = Surveyed { table: table.without_rows(), survey };
    let inputs = Inputs::read_with(&plan, options, &eclipse, progress, Some(surveyed))?;
    let rules = plan.totality_rules(&eclipse, inputs.moon.clone());
    let longest_totality_s = eclipse.greatest().central_duration_s.unwrap_or(greatest.max(60.0));
    let scale = EclipseScale { longest_totality_s };
    let scorer = Scorer::new(&plan, &scale);
    let trip =
        Trip { plan: &plan, kernel: used.get(), eclipse: &eclipse, rules: &rules, scorer: &scorer, scale, progress };
    trip.rank_long(&inputs, &table, count, lines).map(Some)
}

/// Reads the table through.
fn survey(plan: &Plan, eclipse: &Eclipse, table: &mut LongTable, limit: u64) -> Result<Survey, crate::fault::Faults> {
    let place = |name: &String| table.names.iter().position(|column| column == name);
    let numbers: Vec<(usize, String)> =
        asked_of_columns(plan).filter_map(|(key, name, _)| Some((place(name)?, key))).collect();
    let compared = plan.output.compare.iter().flat_map(|(one, other)| [one, other]);
    let named: Vec<&str> = compared.chain(&plan.fallback.base).map(String::as_str).collect();
    let totality_s = |row: &SiteRow| {
        eclipse.quick(&Site::at_sea_level(GeoPoint { lat_deg: row.lat_deg, lon_deg: row.lon_deg })).duration_s
    };
    let greatest: Option<&(dyn Fn(&SiteRow) -> f64 + Sync)> = match eclipse.greatest().central_duration_s {
        Some(_) => None,
        None => Some(&totality_s),
    };
    table.survey(&Asked { limit, numbers: &numbers, named: &named, greatest })
}

/// The best so far: where they stand, and the candidates.
type Best = Vec<(Standing, Place)>;

/// What came of a block.
struct Block {
    run: Run,
    toll: Toll,
    best: Best,
    count: u64,
}

impl Trip<'_> {
    fn rank_long(
        &self,
        inputs: &Inputs,
        table: &LongTable,
        count: u64,
        lines: &dyn Lines,
    ) -> Result<LongRanking, RunError> {
        let path = self.eclipse.path(60.0);
        let clouds = inputs.forecast.as_ref().map_or(&inputs.clouds, |(_, clouds)| clouds);
        let bands = Bands::of(self.plan.sky.air);
        let about = self.about(inputs, clouds, &bands, &path, false);
        let method = Method::of(self.scorer, self.plan.score.profile.clone());
        let terms = |name: &String| self.scorer.terms.iter().any(|term| term.name == *name);
        let required = |name: &String| self.plan.requirements.iter().any(|r| r.criterion == *name);
        let wanted: Vec<usize> =
            (0..table.names.len()).filter(|&i| terms(&table.names[i]) || required(&table.names[i])).collect();
        let candidate = |row: &SiteRow| {
            let number = |&i: &usize| match row.cells[i] {
                Cell::Number(value) => Some((table.names[i].clone(), value)),
                _ => None,
            };
            let columns = wanted.iter().filter_map(number).collect();
            Place { columns, ..Place::of(row).looked_up(&inputs.horizons) }
        };
        self.progress.begin("Looking at the sites", count);
        let mut toll = Toll::new(self.plan);
        let mut spool = Spool::default();
        let mut best: Best = Vec::new();
        table.rows(|blocks| {
            if self.progress.cancelled() {
                return Err(RunError::Stopped);
            }
            let worst = best.get(HELD - 1);
            let look = |(first, rows): (u64, Vec<SiteRow>)| {
                let mut block = Block { run: Run::default(), toll: Toll::new(self.plan), best: Vec::new(), count: 0 };
                for (row, index) in rows.iter().zip(first..) {
                    let mut a = self.look_at(about, true, candidate(row));
                    let score = self.judge(&mut a, &mut block.toll);
                    let standing = Standing::of(&a, score, index);
                    let site = RankedSite::new(a, self.scorer, None);
                    let name = site.name();
                    block.run.push(standing, name, |into| lines.line(self.rules, &site, into));
                    block.count += 1;
                    if worst.is_none_or(|(other, c)| standing.before(name, other, &c.name).is_lt()) {
                        block.best.push((standing, site.found.place));
                    }
                }
                keep_best(&mut block.best);
                block
            };
            let looked: Vec<Block> = blocks.into_par_iter().map(look).collect();
            for block in looked {
                self.progress.advance(block.count);
                toll.add(block.toll, self.plan);
                spool.take(block.run).map_err(RunError::Disk)?;
                best.extend(block.best);
            }
            keep_best(&mut best);
            Ok(())
        })?;
        if toll.ranked == 0 {
            return Err(self.nobody_left(&toll));
        }
        let best = best.into_iter().map(|(_, candidate)| candidate).collect();
        let best = self.best_in_full(inputs, About { in_full: true, ..about }, best)?;
        inputs.files.unchanged()?;
        let mut notes = Vec::new();
        self.notes(&mut notes, clouds.invented(), self.eclipse.greatest().tt.utc_is_predicted(), clouds);
        // A table is long where it is read row by row, however few its rows: nothing is said of some that would hold of all.
        self.notes_of_size(
            &mut notes,
            inputs,
            None,
            toll.ranked,
            toll.candidates.max(MOST_ONE_BY_ONE as u64 + 1) as usize,
        );
        let line = |site: &RankedSite| {
            let mut line = Vec::new();
            lines.line(self.rules, site, &mut line);
            line
        };
        Ok(LongRanking { notes, head: lines.head(&method), best: best.iter().map(line).collect(), spool })
    }

    /// The best with all that is said of them: windows, draws, fallbacks.
    fn best_in_full(&self, inputs: &Inputs, about: About<'_>, best: Vec<Place>) -> Result<Vec<RankedSite>, RunError> {
        let mut assessed: Vec<Assessed> = best.into_par_iter().map(|place| self.look_at(about, true, place)).collect();
        let mut toll = Toll::new(self.plan);
        for a in &mut assessed {
            self.judge(a, &mut toll);
        }
        let order: Vec<usize> = (0..assessed.len()).collect();
        self.decide(&mut assessed, &order[..order.len().min(WINDOWS_AMONG_MANY)]);
        let mut sites = self.ranked_sites(assessed, toll.ranked, about.clouds);
        self.robustness(&mut sites[..toll.ranked]);
        // A table shows where to flee from each place; where the group sleeps changes nothing of that.
        let keys = FallbackKeys { base: None, base_at: None, ..self.plan.fallback.clone() };
        let asked = fallback::told::Asked {
            keys: &keys,
            matrix: inputs.drives.as_ref(),
            clouds: about.clouds,
            ranked: toll.ranked,
            base: None,
        };
        fallback::told::plan(&asked, &mut sites)?;
        Ok(sites)
    }
}

/// Brings the best to the front, in order, and lets the others go.
fn keep_best(best: &mut Best) {
    best.sort_unstable_by(|(a, one), (b, other)| a.before(&one.name, b, &other.name));
    best.truncate(HELD);
}
