//! Files that appear under their name only when they are complete.

use std::io;
use std::path::Path;

/// Lets `make` write a file beside `path` and renames it. One already there stays whole until then, and whoever
/// has it open keeps the old one; on an error nothing is left beside it.
pub fn replace<T, E: From<io::Error>>(path: &Path, make: impl FnOnce(&Path) -> Result<T, E>) -> Result<T, E> {
    let mut fresh = path.as_os_str().to_owned();
    fresh.push(format!(".{}.part", std::process::id()));
    let fresh = Path::new(&fresh);
    if fresh.exists() {
        std::fs::remove_file(fresh)?;
    }
    let done = make(fresh).and_then(|made| Ok(std::fs::rename(fresh, path).map(|()| made)?));
    if done.is_err() {
        // The reason told is the first one; a remainder that cannot be removed changes nothing of it.
        let _ = std::fs::remove_file(fresh);
    }
    done
}
