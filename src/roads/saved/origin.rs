//! Which extract a saved network was made from, and whether that extract has changed since.
//!
//! Size and time of change are looked at first, as `make` does. Only where the time differs and the
//! size does not is the extract read and hashed, so that a copied or touched extract is not taken for
//! a changed one. An extract that is no longer there says nothing: a saved network serves alone.

use crate::finding::{Code, Outcome, Refusal, Where};
use serde::{Deserialize, Serialize};
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::UNIX_EPOCH;
use xxhash_rust::xxh3::Xxh3;

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Origin {
    /// From the root, so that it does not matter where a command is called from.
    path: String,
    length: u64,
    modified_ns: Option<i128>,
    /// XXH3 of the whole extract.
    hash: u64,
}

impl Origin {
    pub fn of(extract: &Path) -> Outcome<Origin> {
        let refuse = |e: std::io::Error| {
            let missing = e.kind() == std::io::ErrorKind::NotFound;
            let code = if missing { Code::FileMissing } else { Code::FileUnreadable };
            let cause = format!("the file cannot be opened ({e})");
            Refusal::new(code, Where::file(extract.display()), cause, "check the path")
        };
        let (length, modified_ns) = stamp(extract).map_err(refuse)?;
        let hash = hash(extract).map_err(refuse)?;
        let path = extract.canonicalize().map_err(refuse)?.to_string_lossy().into_owned();
        Ok(Origin { path, length, modified_ns, hash })
    }

    /// The extract, in its place or beside the saved network.
    pub fn extract(&self, saved: &Path) -> Option<PathBuf> {
        let there = PathBuf::from(&self.path);
        let beside = || Some(saved.parent()?.join(there.file_name()?));
        let found = |path: &PathBuf| path.metadata().is_ok_and(|meta| meta.is_file());
        Some(there.clone()).filter(found).or_else(|| beside().filter(found))
    }

    /// The extract as it was when the network was saved is no longer what lies in its place, or beside
    /// the saved network where the two have moved together.
    pub fn changed(&self, saved: &Path) -> Option<PathBuf> {
        let extract = self.extract(saved)?;
        let same = match stamp(&extract) {
            Ok((length, _)) if length != self.length => false,
            Ok((_, modified_ns)) if modified_ns.is_some() && modified_ns == self.modified_ns => true,
            // One that cannot be read now cannot be compared, and might have changed.
            _ => hash(&extract).is_ok_and(|hash| hash == self.hash),
        };
        (!same).then_some(extract)
    }
}

/// Bytes, and nanoseconds since 1970 where the file system keeps the time of change.
fn stamp(path: &Path) -> std::io::Result<(u64, Option<i128>)> {
    let meta = path.metadata()?;
    let modified_ns = meta.modified().ok().map(|time| match time.duration_since(UNIX_EPOCH) {
        Ok(after) => after.as_nanos() as i128,
        Err(before) => -(before.duration().as_nanos() as i128),
    });
    Ok((meta.len(), modified_ns))
}

fn hash(path: &Path) -> std::io::Result<u64> {
    let mut file = File::open(path)?;
    let mut hasher = Xxh3::new();
    let mut piece = vec![0; 1 << 18];
    loop {
        match file.read(&mut piece)? {
            0 => return Ok(hasher.digest()),
            count => hasher.update(&piece[..count]),
        }
    }
}
