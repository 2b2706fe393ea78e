//! The saved network: what reading an extract gave, in a file that opens at once.
//!
//! `layout` is the file's frame (header, sections, checksum), `rest` what is not plain numbers, `origin`
//! the extract it was made from, `check` holds a network read from a file to what the other floors
//! rely on. Sections of `routing` are carried for that floor, which knows what they mean. Anyone may have written
//! the file: a checksum tells damage, not intent, so every index is checked before it is used.

mod check;
mod layout;
mod origin;
mod rest;

pub use check::{countable, damaged};
pub use layout::{OF_ROUTING, seal};
pub use origin::Origin;

use crate::finding::{Code, Outcome, Refusal, Where};
use crate::place::Place;
use crate::replace::replace;
use crate::roads::buildings::Wish;
use crate::roads::network::{Junction, Network, Segment, Way};
use bytemuck::{Pod, Zeroable};
use layout::{MAGIC, OF_NETWORK, Sections};
use memmap2::MmapOptions;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

/// A junction as saved: plain numbers without padding.
#[derive(Clone, Copy, Pod, Zeroable)]
#[repr(C)]
struct JunctionRow {
    osm_id: i64,
    place: Place,
    mark: u32,
    cut: u32,
}

/// A way as saved. Many ways are tagged alike, so each set of tags is kept once.
#[derive(Clone, Copy, Pod, Zeroable)]
#[repr(C)]
struct WayRow {
    id: i64,
    tags: u32,
    name: u32,
}

/// Writes a network. The same network gives the same bytes. The file appears under its name only when
/// it is complete, and one already there is replaced, never written into: whoever has it open keeps
/// the old one.
pub fn write(network: &Network, origin: &Origin, routing: [&[u8]; OF_ROUTING], path: &Path) -> Outcome<u64> {
    let file = path.display().to_string();
    let bytes = to_bytes(network, origin, routing).map_err(|cause| {
        Refusal::new(Code::InputInvalid, Where::file(&file), cause, "plan on the .osm.pbf itself")
    })?;
    replace(path, |fresh| std::fs::write(fresh, &bytes)).map_err(|e| {
        Refusal::new(
            Code::FileUnreadable,
            Where::file(&file),
            format!("the saved network cannot be written ({e})"),
            "name a file in a folder that exists and can be written",
        )
    })?;
    Ok(bytes.len() as u64)
}

fn to_bytes(network: &Network, origin: &Origin, routing: [&[u8]; OF_ROUTING]) -> Result<Vec<u8>, String> {
    // A new field of these types is to be saved too: naming them all makes the compiler ask for it.
    let Network { junctions, segments, ways, points, buildings, .. } = network;
    let junctions: Vec<JunctionRow> = junctions
        .iter()
        .map(|junction| {
            let Junction { osm_id, place, mark, cut } = *junction;
            JunctionRow { osm_id, place, mark, cut: u32::from(cut) }
        })
        .collect();
    let (rest, tags_of) =
        rest::write(network, origin).map_err(|e| format!("the network cannot be saved ({e})"))?;
    let ways: Vec<WayRow> = ways
        .iter()
        .zip(tags_of)
        .map(|(way, tags)| {
            let Way { id, tags: _, name } = *way;
            WayRow { id, tags, name }
        })
        .collect();
    let network = [
        bytemuck::cast_slice(points),
        bytemuck::cast_slice(segments),
        bytemuck::cast_slice(&junctions),
        bytemuck::cast_slice(&ways),
        bytemuck::cast_slice(buildings.as_deref().unwrap_or_default()),
        &rest,
    ];
    layout::assemble(&Sections { network, routing })
}

/// Opens a saved network, and what routing makes of the sections it wrote: `copy` takes them out of the file, beside
/// the network, and `fit` holds the copies to the network. `None` if the file is something else, or cannot be read at
/// all, which the reader of extracts tells better.
pub fn open<C: Send, T>(
    path: &Path,
    wish: Wish,
    copy: impl FnOnce([&[u8]; OF_ROUTING]) -> Result<C, String> + Send,
    fit: impl FnOnce(&Network, C) -> Result<T, String>,
) -> Outcome<Option<(Network, T)>> {
    // A pipe is none, and reading its first bytes would take them away from the next reader.
    if !std::fs::metadata(path).is_ok_and(|meta| meta.is_file()) {
        return Ok(None);
    }
    let Ok(mut file) = File::open(path) else { return Ok(None) };
    let mut first = Vec::new();
    if Read::by_ref(&mut file).take(MAGIC.len() as u64).read_to_end(&mut first).is_err()
        || first.is_empty()
        || !MAGIC.starts_with(&first)
    {
        return Ok(None);
    }
    let refuse = |cause: String| {
        Refusal::new(
            Code::FileUnreadable,
            Where::file(path.display()),
            cause,
            "run `tankerloop prepare` again on the .osm.pbf extract",
        )
    };
    // SAFETY: the map is read-only and lives only in this function. Memory under it changes only if
    // someone writes into the file meanwhile; `write` above never does, it replaces the file. Should
    // another program do so, what is used is a copy, and it is the copy that `check` has judged, so
    // that no index can change after it was checked. A file cut short while it is being copied ends
    // the program by a signal, as with every memory map.
    let map = unsafe { MmapOptions::new().map(&file) }
        .map_err(|e| refuse(format!("the saved network cannot be opened ({e})")))?;
    let sections = layout::sections(&map).map_err(refuse)?;
    let (read, copies) = rayon::join(|| from_sections(sections.network, wish), || copy(sections.routing));
    let (network, origin) = read.map_err(refuse)?;
    if let Some(extract) = origin.changed(path) {
        let extract = extract.display();
        return Err(refuse(format!(
            "the extract {extract} has changed since this network was saved from it"
        )));
    }
    let made = copies.and_then(|copies| fit(&network, copies)).map_err(refuse)?;
    Ok(Some((network, made)))
}

/// The extract that a road file is or was saved from; the error says why there is none. For what a saved
/// network does not hold.
pub fn extract_of(path: &Path) -> Result<PathBuf, String> {
    let bytes = std::fs::read(path).map_err(|e| format!("{} cannot be read ({e})", path.display()))?;
    if !bytes.starts_with(&MAGIC) {
        return Ok(path.to_path_buf());
    }
    let (_, origin) = from_sections(layout::sections(&bytes)?.network, Wish::default())?;
    origin.extract(path).ok_or_else(|| {
        format!("{} is a saved network, and the extract it was saved from is not there", path.display())
    })
}

fn from_sections(sections: [&[u8]; OF_NETWORK], wish: Wish) -> Result<(Network, Origin), String> {
    let [points, segments, junctions, ways, buildings, rest] = sections;
    // Text is borrowed from it once it was found to be text.
    let rest = rest.to_vec();
    let points: Vec<Place> = rows(points)?.to_vec();
    let segments: Vec<Segment> = rows(segments)?.to_vec();
    let junctions = rows::<JunctionRow>(junctions)?
        .iter()
        .map(|row| Junction { osm_id: row.osm_id, place: row.place, mark: row.mark, cut: row.cut != 0 })
        .collect();
    let (mut network, origin) = rest::read(&rest, rows::<WayRow>(ways)?)?;
    network.points = points;
    network.segments = segments;
    network.junctions = junctions;
    // Left where they lie unless asked for: no plan needs them.
    network.buildings = match (network.buildings, wish.buildings) {
        (Some(_), true) => Some(rows(buildings)?.to_vec()),
        _ => None,
    };
    check::check(&network)?;
    Ok((network, origin))
}

/// A section as rows of plain numbers.
pub fn rows<T: Pod>(section: &[u8]) -> Result<&[T], String> {
    bytemuck::try_cast_slice(section).map_err(|_| check::damaged("a section has the wrong length"))
}
