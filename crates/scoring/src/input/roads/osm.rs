//! Roads from an OpenStreetMap extract, in three passes: which nodes the roads run through, where those lie, the pieces.
//!
//! Memory holds the numbers and places of the roads' nodes (16 bytes each) and, at the end, the pieces near the path; the
//! file itself is read blob by blob.

use std::fs::File;
use std::io::BufReader;
use std::path::Path;

use noonfall_ephemeris::GeoPoint;
use rayon::prelude::*;

use super::pbf::{Blob, Blobs, Block, Way, check_header};
use super::{GIVE, Roads, called, drivable, too_many};
use crate::fault::{Fault, Faults};

/// Most nodes that the roads of a file may run through: 480 MB.
const MOST_NODES: usize = 30_000_000;
/// Blobs are unpacked together up to so many packed bytes, and so many blobs.
const BATCH_BYTES: usize = 4 << 20;
const BATCH_BLOBS: usize = 16;

/// A node that is not near the path.
const NOWHERE: [i32; 2] = [i32::MIN; 2];

/// Adds the roads of a file.
pub(super) fn read(
    path: &Path,
    file: &str,
    near: &(impl Fn(GeoPoint) -> bool + Sync),
    roads: &mut Roads,
) -> Result<(), Faults> {
    let wanted = |way: &Way<'_>| drivable(|key| way.tag(key));
    let mut nodes: Vec<i64> = Vec::new();
    let mut tidy_at = MOST_NODES / 2;
    blocks(
        path,
        file,
        |block| {
            let mut refs = Vec::new();
            block.ways(wanted, |way| refs.extend(way.refs))?;
            Ok(refs)
        },
        |refs| {
            nodes.extend(refs);
            if nodes.len() > tidy_at {
                nodes.sort_unstable();
                nodes.dedup();
                tidy_at = (2 * nodes.len()).max(MOST_NODES / 2);
            }
            if nodes.len() > 2 * MOST_NODES { Err(too_long(file)) } else { Ok(()) }
        },
    )?;
    nodes.par_sort_unstable();
    nodes.dedup();
    nodes.shrink_to_fit();
    if nodes.len() > MOST_NODES {
        return Err(too_long(file));
    }
    let mut places = vec![NOWHERE; nodes.len()];
    blocks(
        path,
        file,
        |block| {
            let mut found = Vec::new();
            // Nodes are in the order of their numbers as a rule: the place of one is looked for from that of the one before.
            let mut from = 0;
            block.nodes(|id, place| {
                if nodes.get(from.max(1) - 1).is_some_and(|&n| n >= id) {
                    from = 0;
                }
                from += position_from(&nodes[from..], id);
                if nodes.get(from) == Some(&id) && near(point(place)) {
                    found.push((from, place));
                }
            })?;
            Ok(found)
        },
        |found| {
            for (i, place) in found {
                places[i] = place;
            }
            Ok(())
        },
    )?;
    let place = |id: &i64| nodes.binary_search(id).ok().map(|i| places[i]).filter(|p| *p != NOWHERE).map(point);
    blocks(
        path,
        file,
        |block| {
            let mut ways = Vec::new();
            block.ways(wanted, |way| {
                let points: Vec<Option<GeoPoint>> = way.refs.iter().map(place).collect();
                let pairs: Vec<_> = points.windows(2).filter_map(|pair| pair[0].zip(pair[1])).collect();
                if !pairs.is_empty() {
                    ways.push((called(|key| way.tag(key)).map(str::to_owned), pairs));
                }
            })?;
            Ok(ways)
        },
        |ways| {
            for (name, pairs) in ways {
                let name = roads.number(name.as_deref());
                if !pairs.into_iter().all(|(from, to)| roads.add(from, to, name)) {
                    return Err(too_many(file));
                }
            }
            Ok(())
        },
    )
}

fn point(place: [i32; 2]) -> GeoPoint {
    GeoPoint { lat_deg: f64::from(place[0]) * 1e-7, lon_deg: f64::from(place[1]) * 1e-7 }
}

/// How many of the sorted numbers are below `id`, by ever longer steps from the beginning.
fn position_from(sorted: &[i64], id: i64) -> usize {
    let mut step = 1;
    while sorted.get(step - 1).is_some_and(|&n| n < id) {
        step *= 2;
    }
    let from = step / 2;
    from + sorted[from..step.min(sorted.len())].partition_point(|&n| n < id)
}

fn too_long(file: &str) -> Faults {
    let wrong = format!("its roads run through more than {MOST_NODES} nodes");
    Fault::of_file(file, wrong, "cut the extract to the part of the path that you search in").into()
}

/// Goes through the blocks of data: `look` at many at once, `take` what they give in the order of the file.
fn blocks<T: Send>(
    path: &Path,
    file: &str,
    look: impl Fn(&Block<'_>) -> Result<T, String> + Sync,
    mut take: impl FnMut(T) -> Result<(), Faults>,
) -> Result<(), Faults> {
    let fault = |wrong: String| Faults::from(Fault::of_file(file, wrong, GIVE));
    let opened = File::open(path).map_err(|e| fault(format!("cannot be opened ({e})")))?;
    let mut blobs = Blobs::new(BufReader::with_capacity(1 << 18, opened));
    loop {
        let (mut batch, mut bytes): (Vec<Blob>, usize) = (Vec::new(), 0);
        let mut more = true;
        while more && bytes < BATCH_BYTES && batch.len() < BATCH_BLOBS {
            match blobs.next().map_err(fault)? {
                Some(blob) => {
                    bytes += blob.packed_bytes();
                    batch.push(blob);
                }
                None => more = false,
            }
        }
        let looked: Vec<Result<Option<T>, String>> = batch
            .par_iter()
            .map(|blob| {
                let unpacked = blob.unpacked()?;
                let wrong = |why: String| format!("blob {}: {why}", blob.number);
                if blob.header {
                    return check_header(&unpacked).map(|()| None).map_err(wrong);
                }
                Block::of(&unpacked).and_then(|block| look(&block)).map(Some).map_err(wrong)
            })
            .collect();
        for found in looked {
            if let Some(found) = found.map_err(fault)? {
                take(found)?;
            }
        }
        if !more {
            return Ok(());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_is_found_by_ever_longer_steps() {
        let sorted: Vec<i64> = (0..100).map(|i| 3 * i).collect();
        for id in -2..310 {
            assert_eq!(position_from(&sorted, id), sorted.partition_point(|&n| n < id), "{id}");
        }
        assert_eq!(position_from(&[], 5), 0);
    }
}
