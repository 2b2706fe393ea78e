//! The roads, opened once. Requests at the same moment with the same roads closed share them, ready for
//! routing; a few other sets are kept for those who ask again.

use crate::finding::{Code, Outcome, Refusal, Where};
use crate::plan::{RoadInputs, Terrain};
use crate::roads::condition::Moment;
use crate::routing::Roads;
use self_cell::self_cell;
use std::path::Path;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};
use std::time::SystemTime;

self_cell!(
    /// Roads with what routing makes of them.
    pub struct Land {
        owner: Roads,
        #[not_covariant]
        dependent: Terrain,
    }
);

/// Sets of roads ready for routing that are kept: a command post tries a few closures, not dozens.
const MOST_LANDS: usize = 8;
/// Moments whose roads are kept as they were read.
const MOST_MOMENTS: usize = 3;

/// What one set of roads is told from another by: when, and which ways the request closes.
type LandKey = (Moment, Vec<i64>);
/// Filled by whoever asks first; others wait for it.
type Slot<T> = Arc<OnceLock<Outcome<Arc<T>>>>;

/// Those used last come last.
struct Kept<K, T> {
    most: usize,
    slots: Mutex<Vec<(K, Slot<T>)>>,
}

impl<K: PartialEq, T> Kept<K, T> {
    fn new(most: usize) -> Self {
        Kept { most, slots: Mutex::default() }
    }

    fn get(&self, key: K, make: impl FnOnce() -> Outcome<T>) -> Outcome<Arc<T>> {
        let slot = {
            let mut slots = self.slots.lock().unwrap_or_else(PoisonError::into_inner);
            // An error is not kept: its cause may go.
            slots.retain(|(_, slot)| slot.get().is_none_or(Result::is_ok));
            let entry = match slots.iter().position(|(known, _)| *known == key) {
                Some(at) => slots.remove(at),
                None => (key, Slot::<T>::default()),
            };
            let slot = entry.1.clone();
            slots.push(entry);
            let over = slots.len().saturating_sub(self.most);
            slots.drain(..over);
            slot
        };
        slot.get_or_init(|| make().map(Arc::new)).clone()
    }
}

pub struct Lands {
    /// Size and date of the road file when it was opened first.
    file: (u64, Option<SystemTime>),
    bare: Kept<Moment, Roads>,
    ready: Kept<LandKey, Land>,
}

fn stamp(file: &Path) -> (u64, Option<SystemTime>) {
    std::fs::metadata(file).map_or((0, None), |meta| (meta.len(), meta.modified().ok()))
}

impl Lands {
    pub fn new(inputs: &RoadInputs) -> Lands {
        Lands { file: stamp(&inputs.file), bare: Kept::new(MOST_MOMENTS), ready: Kept::new(MOST_LANDS) }
    }

    /// The roads of a request; `closed_ways` are those it closes itself, which lie in its overlay.
    pub fn get(
        &self,
        inputs: &RoadInputs,
        closed_ways: &[i64],
        progress: &mut dyn FnMut(u64, u64),
    ) -> Outcome<Arc<Land>> {
        let moment = &inputs.policy.moment;
        let mut closed = closed_ways.to_vec();
        closed.sort_unstable();
        closed.dedup();
        self.ready.get((*moment, closed), || {
            let bare = self.bare.get(*moment, || self.read(inputs, progress))?;
            let mut roads = Roads::clone(&bare);
            inputs.lay(&mut roads);
            Ok(Land::new(roads, |roads| Terrain::lasting(roads)))
        })
    }

    fn read(&self, inputs: &RoadInputs, progress: &mut dyn FnMut(u64, u64)) -> Outcome<Roads> {
        if stamp(&inputs.file) != self.file {
            return Err(Refusal::new(
                Code::FileUnreadable,
                Where::file(inputs.file.display()),
                "the road file has changed since it was opened",
                "start `tankerloop serve` again",
            ));
        }
        inputs.bare(progress)
    }
}
