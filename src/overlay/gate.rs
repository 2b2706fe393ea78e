//! A gate that somebody opens: the lock and the word of the law, never what stands in the way.

use crate::roads::local::Said;
use crate::roads::tags::{Barrier, NodeTags, Permit, Permits};

/// Opens it; false where it was open, an error where it is nothing that opens.
pub fn open(mark: &mut NodeTags, said: Said) -> Result<bool, &'static str> {
    match mark.barrier {
        None => return Err("no gate is mapped there"),
        Some(Barrier::Opens | Barrier::Passable | Barrier::Stops) => {}
        Some(Barrier::Blocks | Barrier::Gap) => {
            return Err("posts or blocks stand there, which nobody opens");
        }
        Some(Barrier::HeightFrame) => return Err("a height frame stands there, which nobody opens"),
        Some(Barrier::Ford) => return Err("a ford is no gate"),
        Some(Barrier::Unknown) => return Err("a barrier of an unknown kind stands there"),
    }
    let Permits { motor, hgv, emergency } = mark.permits;
    let open = |permit: Permit| matches!(permit, Permit::Unset | Permit::Yes);
    let by_times = mark.special.as_ref().is_some_and(|special| !special.permits.is_empty());
    let was_open = emergency == Permit::Yes
        || !mark.locked && !by_times && open(motor) && open(hgv) && emergency != Permit::No;
    mark.locked = false;
    mark.permits = Permits::default();
    if let Some(special) = &mut mark.special {
        special.permits.clear();
    }
    mark.opened = Some(said);
    Ok(!was_open)
}
