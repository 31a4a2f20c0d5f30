//! The ranked table line by line, for tables longer than memory: the lines are those of [`super::sheet()`].

use crate::csv;
use crate::table::{Cell, Column};
use noonfall_scoring::outlook::totality::TotalityRules;
use noonfall_scoring::rank::{Method, RankedSite};
use noonfall_scoring::trip::Lines;
use std::io::{self, Write};

/// CSV.
#[derive(Clone, Copy, Debug, Default)]
pub struct CsvLines;

impl Lines for CsvLines {
    fn head(&self, method: &Method) -> Vec<u8> {
        let text = |column: Column| Cell::Text(column.key);
        let head: Vec<Cell> = super::sheet::columns(method, &[]).into_iter().map(text).collect();
        let mut bytes = Vec::new();
        csv::cells(&head, &mut bytes);
        bytes.extend_from_slice(csv::LINE_END);
        bytes
    }

    fn line(&self, rules: &TotalityRules, site: &RankedSite, into: &mut Vec<u8>) {
        // The rank stands in front, and is known when all are in order.
        csv::cells(&super::sheet::row(rules, &[], site)[1..], into);
    }

    fn write(&self, rank: Option<usize>, line: &[u8], out: &mut dyn Write) -> io::Result<()> {
        if let Some(rank) = rank {
            write!(out, "{rank}")?;
        }
        out.write_all(b",")?;
        out.write_all(line)?;
        out.write_all(csv::LINE_END)
    }
}
