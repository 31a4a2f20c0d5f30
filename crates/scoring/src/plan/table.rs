//! One table of a plan, walked key by key: every wrong key or value is noted with its line, and the walk goes on.

use std::collections::HashSet;

use toml::de::{DeTable, DeValue};

use crate::fault::Fault;

/// Where lines begin in the plan's text.
pub(super) struct Lines {
    starts: Vec<usize>,
}

impl Lines {
    pub(super) fn of(text: &str) -> Lines {
        let starts = std::iter::once(0).chain(text.match_indices('\n').map(|(i, _)| i + 1)).collect();
        Lines { starts }
    }

    /// Line, counted from 1, that holds a byte offset.
    pub(super) fn line(&self, offset: usize) -> u64 {
        self.starts.partition_point(|&s| s <= offset) as u64
    }
}

/// What the walk shares: the file's name, its lines, and the faults so far.
pub(super) struct Walk<'a> {
    pub(super) file: &'a str,
    pub(super) lines: &'a Lines,
    pub(super) faults: Vec<Fault>,
}

impl Walk<'_> {
    pub(super) fn fault(&mut self, line: Option<u64>, key: String, wrong: String, right: String) {
        self.faults.push(Fault::of_key(self.file, line, key, wrong, right));
    }
}

/// One table of the plan.
pub(super) struct Table<'a, 'i> {
    path: String,
    line: Option<u64>,
    table: Option<&'a DeTable<'i>>,
    known: Vec<&'static str>,
}

/// A value with its line.
#[derive(Clone, Copy)]
pub(super) struct Item<'a, 'i> {
    pub(super) line: u64,
    pub(super) value: &'a DeValue<'i>,
}

/// A value as the plan gives it, for a message.
pub(super) fn shown(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(s) => format!("\"{s}\" is text"),
        DeValue::Integer(i) => format!("{} is a whole number", i.as_str()),
        DeValue::Float(f) => format!("{} is a number", f.as_str()),
        DeValue::Boolean(b) => format!("{b} is true or false"),
        DeValue::Datetime(d) => format!("{d} is a date or time"),
        DeValue::Array(_) => "a list stands here".to_string(),
        DeValue::Table(_) => "a table stands here".to_string(),
    }
}

/// The number in a value, integers included; `None` when it is not a number.
pub(super) fn number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix()).ok().map(|n| n as f64),
        DeValue::Float(f) => f.as_str().parse().ok(),
        _ => None,
    }
}

/// The nearest of the known names, if one is near enough to be meant.
pub fn nearest<'k>(name: &str, known: impl IntoIterator<Item = &'k str>) -> Option<&'k str> {
    known
        .into_iter()
        .map(|k| (strsim::jaro_winkler(name, k), k))
        .filter(|(likeness, _)| *likeness > 0.7)
        .max_by(|a, b| a.0.total_cmp(&b.0).then_with(|| b.1.cmp(a.1)))
        .map(|(_, k)| k)
}

/// "did you mean" and the list of what is known.
pub(crate) fn meant(name: &str, known: &[&str]) -> String {
    match nearest(name, known.iter().copied()) {
        Some(near) => format!("did you mean {near}? Known: {}", known.join(", ")),
        None => format!("known: {}", known.join(", ")),
    }
}

impl<'a, 'i> Table<'a, 'i> {
    pub(super) fn root(table: &'a DeTable<'i>) -> Table<'a, 'i> {
        Table { path: String::new(), line: None, table: Some(table), known: Vec::new() }
    }

    /// Dotted path of a key of this table.
    pub(super) fn key(&self, key: &str) -> String {
        if self.path.is_empty() { key.to_string() } else { format!("{}.{key}", self.path) }
    }

    /// Whether the plan has this table at all.
    pub(super) fn present(&self) -> bool {
        self.table.is_some()
    }

    /// Line of the table's own header or key.
    pub(super) fn line(&self) -> Option<u64> {
        self.line
    }

    /// All keys with their values, in order of the text.
    pub(super) fn items(&self, walk: &Walk<'_>) -> Vec<(String, Item<'a, 'i>)> {
        let Some(table) = self.table else { return Vec::new() };
        let mut items: Vec<(usize, String, Item<'a, 'i>)> = table
            .iter()
            .map(|(k, v)| {
                let at = k.span().start;
                (at, k.get_ref().to_string(), Item { line: walk.lines.line(at), value: v.get_ref() })
            })
            .collect();
        items.sort_by_key(|i| i.0);
        items.into_iter().map(|(_, k, v)| (k, v)).collect()
    }

    pub(super) fn item(&mut self, walk: &Walk<'_>, key: &'static str) -> Option<Item<'a, 'i>> {
        self.known.push(key);
        let (k, v) = self.table?.iter().find(|(k, _)| k.get_ref() == key)?;
        Some(Item { line: walk.lines.line(k.span().start), value: v.get_ref() })
    }

    /// A table within this one; absent tables read as empty.
    pub(super) fn table(&mut self, walk: &mut Walk<'_>, key: &'static str) -> Table<'a, 'i> {
        let path = self.key(key);
        match self.item(walk, key) {
            Some(item) => Table::from_item(walk, path, item),
            None => Table { path, line: None, table: None, known: Vec::new() },
        }
    }

    pub(super) fn from_item(walk: &mut Walk<'_>, path: String, item: Item<'a, 'i>) -> Table<'a, 'i> {
        let table = item.value.as_table();
        if table.is_none() {
            let right = format!("write a table headed [{path}]");
            walk.fault(Some(item.line), path.clone(), shown(item.value), right);
        }
        Table { path, line: Some(item.line), table, known: Vec::new() }
    }

    /// A finite number from `low` to `high`.
    pub(super) fn number(
        &mut self,
        walk: &mut Walk<'_>,
        key: &'static str,
        low: f64,
        high: f64,
        what: &str,
    ) -> Option<f64> {
        let item = self.item(walk, key)?;
        let path = self.key(key);
        checked_number(walk, &path, item, low, high, what)
    }

    pub(super) fn whole(
        &mut self,
        walk: &mut Walk<'_>,
        key: &'static str,
        low: u64,
        high: u64,
        what: &str,
    ) -> Option<u64> {
        let item = self.item(walk, key)?;
        let whole = match item.value {
            DeValue::Integer(i) => u64::from_str_radix(i.as_str(), i.radix()).ok().filter(|n| (low..=high).contains(n)),
            _ => None,
        };
        if whole.is_none() {
            let wrong = match item.value {
                DeValue::Integer(i) => format!("{} is out of range", i.as_str()),
                other => shown(other),
            };
            walk.fault(Some(item.line), self.key(key), wrong, format!("give {what}, from {low} to {high}"));
        }
        whole
    }

    pub(super) fn text(&mut self, walk: &mut Walk<'_>, key: &'static str, what: &str) -> Option<String> {
        let item = self.item(walk, key)?;
        match item.value.as_str() {
            Some(text) if !text.trim().is_empty() => Some(text.to_string()),
            Some(_) => {
                walk.fault(Some(item.line), self.key(key), "the text is empty".into(), format!("give {what}"));
                None
            }
            None => {
                walk.fault(Some(item.line), self.key(key), shown(item.value), format!("give {what} in quotes"));
                None
            }
        }
    }

    pub(super) fn texts(&mut self, walk: &mut Walk<'_>, key: &'static str, what: &str) -> Option<Vec<String>> {
        let item = self.item(walk, key)?;
        let texts = item
            .value
            .as_array()
            .and_then(|a| a.iter().map(|v| v.get_ref().as_str().map(String::from)).collect::<Option<Vec<_>>>());
        if texts.is_none() {
            let right = format!("give a list of {what}, each in quotes");
            walk.fault(Some(item.line), self.key(key), shown(item.value), right);
        }
        texts
    }

    /// True or false.
    pub(super) fn flag(&mut self, walk: &mut Walk<'_>, key: &'static str) -> Option<bool> {
        let item = self.item(walk, key)?;
        let flag = item.value.as_bool();
        if flag.is_none() {
            walk.fault(Some(item.line), self.key(key), shown(item.value), "give true or false".into());
        }
        flag
    }

    /// One of a few words.
    pub(super) fn choice(&mut self, walk: &mut Walk<'_>, key: &'static str, words: &[&str]) -> Option<String> {
        let line = self.item(walk, key)?.line;
        let text = self.text(walk, key, &format!("one of {}", words.join(", ")))?;
        if words.contains(&text.as_str()) {
            return Some(text);
        }
        walk.fault(Some(line), self.key(key), format!("\"{text}\" is not known here"), meant(&text, words));
        None
    }

    /// Notes every key that was never asked for.
    pub(super) fn finish(mut self, walk: &mut Walk<'_>) {
        // A key may have been asked for more than once.
        let mut named = HashSet::new();
        self.known.retain(|key| named.insert(*key));
        for (key, item) in self.items(walk) {
            if !self.known.contains(&key.as_str()) {
                let right = meant(&key, &self.known);
                walk.fault(Some(item.line), self.key(&key), "there is no such key".into(), right);
            }
        }
    }
}

/// A finite number from `low` to `high`, or a fault and `None`.
pub(super) fn checked_number(
    walk: &mut Walk<'_>,
    path: &str,
    item: Item<'_, '_>,
    low: f64,
    high: f64,
    what: &str,
) -> Option<f64> {
    let range = match (low.is_finite(), high.is_finite()) {
        (true, true) => format!(" from {low} to {high}"),
        (true, false) => format!(" of at least {low}"),
        (false, true) => format!(" of at most {high}"),
        (false, false) => String::new(),
    };
    let right = format!("give {what}, a number{range}");
    match number(item.value) {
        None => {
            walk.fault(Some(item.line), path.to_string(), shown(item.value), right);
            None
        }
        Some(x) if !x.is_finite() || x < low || x > high => {
            let wrong = if x.is_finite() {
                format!("{x} is out of range")
            } else {
                format!("{x} is not a number to work with")
            };
            walk.fault(Some(item.line), path.to_string(), wrong, right);
            None
        }
        Some(x) => Some(x),
    }
}
