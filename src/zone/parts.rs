//! Parts of a zone on disk: a run that was stopped goes on where it was, and parts worked on many machines
//! are gathered into what one run would have given, byte for byte.
//!
//! A part is named `part-KKKKK-of-NNNNN.zone` and holds the key of its request, the judged stretches
//! (postcard), and a checksum. It appears under its name only when it is complete.

use super::Zone;
use super::block::{part, work};
use super::judge::Judged;
use super::record::Record;
use crate::finding::{Code, Finding, Outcome, Refusal, Where};
use crate::replace::replace;
use rayon::prelude::*;
use serde::Deserialize;
use std::fmt::{self, Write as _};
use std::io::Read as _;
use std::ops::Range;
use std::path::{Path, PathBuf};
use xxhash_rust::xxh3::{Xxh3, xxh3_64};

/// Stretches of a part, unless told otherwise.
pub const USUAL: usize = 65_536;
/// Stretches written side by side, and what room one takes about.
const OF_A_PIECE: usize = 1_024;
const BYTES_EACH: usize = 128;

/// Tells requests apart: everything that the judging of a stretch rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Key(u64);

struct Digest(Xxh3);

impl fmt::Write for Digest {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        self.0.update(text.as_bytes());
        Ok(())
    }
}

impl Key {
    /// Of a zone and its road file. The form that shows every field of the request is hashed, so no new
    /// field is forgotten; paths are in it as they were given.
    pub fn of(zone: &Zone) -> Outcome<Key> {
        let path = &zone.problem.roads.file;
        let mut digest = Digest(Xxh3::new());
        let unreadable = |e: std::io::Error| {
            let cause = format!("the file cannot be read again ({e})");
            Refusal::new(Code::FileUnreadable, Where::file(path.display()), cause, "leave it in its place")
        };
        let mut file = std::fs::File::open(path).map_err(unreadable)?;
        let mut piece = vec![0; 1 << 20];
        loop {
            match file.read(&mut piece).map_err(unreadable)? {
                0 => break,
                count => digest.0.update(&piece[..count]),
            }
        }
        let _ = write!(digest, "{}{:?}", env!("CARGO_PKG_VERSION"), zone.problem);
        // A stretch is judged alike whatever else the zone holds, but a part is a range of its list.
        for stretch in &zone.stretches {
            digest.0.update(&(stretch.segment() as u64).to_le_bytes());
            digest.0.update(&stretch.from().to_le_bytes());
            digest.0.update(&stretch.to().to_le_bytes());
        }
        Ok(Key(digest.0.digest()))
    }
}

/// A folder of parts of one request.
pub struct Parts {
    folder: PathBuf,
    key: Key,
    /// Of the request.
    stretches: usize,
    pub of: usize,
}

#[derive(Deserialize)]
struct Saved {
    key: u64,
    number: u64,
    of: u64,
    judged: Vec<Judged>,
}

impl Parts {
    /// Of a zone cut in so many. Makes the folder where it is missing.
    pub fn open(folder: &Path, zone: &Zone, of: usize) -> Outcome<Parts> {
        std::fs::create_dir_all(folder).map_err(|e| unwritable(folder, &e))?;
        Ok(Parts { folder: folder.to_path_buf(), key: Key::of(zone)?, stretches: zone.stretches.len(), of })
    }

    fn path(&self, number: usize) -> PathBuf {
        self.folder.join(format!("part-{number:05}-of-{:05}.zone", self.of))
    }

    /// Number of parts that a folder was cut into, by the names of its files.
    pub fn count(folder: &Path) -> Outcome<usize> {
        let entries = std::fs::read_dir(folder).map_err(|e| {
            let cause = format!("the folder cannot be read ({e})");
            Refusal::new(
                Code::FileMissing,
                Where::file(folder.display()),
                cause,
                "name the folder of the parts",
            )
        })?;
        let names = entries.filter_map(|entry| entry.ok()?.file_name().into_string().ok());
        let mut counts: Vec<usize> = names
            .filter_map(|name| {
                let (_, of) = name.strip_prefix("part-")?.strip_suffix(".zone")?.split_once("-of-")?;
                of.parse().ok()
            })
            .collect();
        counts.sort_unstable();
        counts.dedup();
        let refuse = |cause: &str, action: &str| {
            Err(Refusal::new(Code::InputInvalid, Where::file(folder.display()), cause, action))
        };
        match counts[..] {
            [of] if of > 0 => Ok(of),
            [] => refuse("the folder holds no parts", "make them with --block 1/N to --block N/N"),
            _ => refuse("the folder holds parts of different cuts", "keep those of one N"),
        }
    }

    /// A part that was worked before. None where it is missing, of another request, or damaged: it is then
    /// worked again.
    pub fn known(&self, number: usize) -> Option<Vec<Judged>> {
        let bytes = std::fs::read(self.path(number)).ok()?;
        let (body, sum) = bytes.split_last_chunk::<8>()?;
        let saved: Saved =
            (xxh3_64(body) == u64::from_le_bytes(*sum)).then(|| postcard::from_bytes(body).ok())??;
        let mine = (saved.key, saved.number, saved.of) == (self.key.0, number as u64, self.of as u64);
        (mine && saved.judged.len() == self.range(number).len()).then_some(saved.judged)
    }

    /// A part that was there a while ago.
    pub fn read(&self, number: usize) -> Outcome<Vec<Judged>> {
        self.known(number).ok_or_else(|| {
            let path = self.path(number);
            let cause = "the part has changed or gone since it was worked";
            Refusal::new(
                Code::FileUnreadable,
                Where::file(path.display()),
                cause,
                "run again, and leave it there",
            )
        })
    }

    /// The stretches of a part.
    pub fn range(&self, number: usize) -> Range<usize> {
        part(self.stretches, number, self.of)
    }

    /// Works a part and writes it.
    pub fn make(&self, zone: &Zone, number: usize) -> Outcome<Vec<Judged>> {
        let judged = work(zone, &zone.stretches[self.range(number)])?;
        let path = self.path(number);
        let refuse = |e: postcard::Error| {
            Finding::new(Code::FileUnreadable, Where::file(path.display()), e.to_string(), "report it")
        };
        let mut bytes = self.bytes(number, &judged).map_err(refuse)?;
        bytes.extend(xxh3_64(&bytes).to_le_bytes());
        replace(&path, |fresh| std::fs::write(fresh, &bytes)).map_err(|e| unwritable(&path, &e))?;
        Ok(judged)
    }

    /// A [`Saved`], made in pieces side by side: a list is its length and what it holds, one after the other.
    fn bytes(&self, number: usize, judged: &[Judged]) -> postcard::Result<Vec<u8>> {
        let piece = |judged: &[Judged]| -> postcard::Result<Vec<u8>> {
            let room = Vec::with_capacity(judged.len() * BYTES_EACH);
            judged.iter().try_fold(room, |bytes, judged| postcard::to_extend(judged, bytes))
        };
        let pieces: Vec<Vec<u8>> =
            judged.par_chunks(OF_A_PIECE).map(piece).collect::<postcard::Result<_>>()?;
        let head = (self.key.0, number as u64, self.of as u64, judged.len() as u64);
        let mut bytes = Vec::with_capacity(judged.len() * BYTES_EACH);
        bytes = postcard::to_extend(&head, bytes)?;
        pieces.iter().for_each(|piece| bytes.extend_from_slice(piece));
        Ok(bytes)
    }

    /// All parts, those missing worked; `done` is told stretches.
    pub fn all(self, zone: &Zone, done: &mut dyn FnMut(usize)) -> Outcome<Record> {
        Record::of_parts(
            self,
            |parts, number| parts.known(number).map_or_else(|| parts.make(zone, number), Ok),
            done,
        )
    }

    /// All parts, none of which may be missing.
    pub fn gather(self, done: &mut dyn FnMut(usize)) -> Outcome<Record> {
        let mut missing = Vec::new();
        let known = |parts: &Parts, number: usize| {
            let known = parts.known(number);
            if known.is_none() {
                missing.push(number.to_string());
            }
            Ok(known.unwrap_or_default())
        };
        let (folder, of) = (self.folder.clone(), self.of);
        let record = Record::of_parts(self, known, done)?;
        if missing.is_empty() {
            return Ok(record);
        }
        Err(Refusal::new(
            Code::InputInvalid,
            Where::file(folder.display()),
            format!("parts are missing, damaged or of another request: {} of {of}", missing.join(", ")),
            format!("make them with --block K/{of} and the same scenario and options"),
        ))
    }

    /// Takes the parts away again, and the folder if nothing else is in it.
    pub fn remove(&self) {
        for number in 1..=self.of {
            let _ = std::fs::remove_file(self.path(number));
        }
        let _ = std::fs::remove_dir(&self.folder);
    }
}

fn unwritable(path: &Path, e: &std::io::Error) -> Refusal {
    Refusal::new(
        Code::FileUnreadable,
        Where::file(path.display()),
        format!("a part cannot be written ({e})"),
        "name a folder that can be written, with --parts",
    )
}
