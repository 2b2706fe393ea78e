//! What lists say of a main or pond that several fill sites share; `shuttle::share` cuts it to parts.

use crate::sites::fill::FillSite;
use crate::units::{Gallons, GallonsPerMinute};
use std::collections::BTreeMap;

/// What the list says of a main or pond at one of its sites holds for all of them: the least flow, the
/// largest volume.
pub fn agree(sites: &mut [FillSite]) {
    let mut known: BTreeMap<String, (Option<GallonsPerMinute>, Option<Gallons>)> = BTreeMap::new();
    for site in sites.iter() {
        if let Some(name) = &site.details.shares {
            let (flow, volume) = known.entry(name.clone()).or_default();
            *flow = (*flow).into_iter().chain(site.details.shared_flow).reduce(GallonsPerMinute::min);
            *volume = (*volume).into_iter().chain(site.volume).reduce(Gallons::max);
        }
    }
    for site in sites {
        if let Some((flow, volume)) = site.details.shares.as_ref().and_then(|name| known.get(name)) {
            (site.details.shared_flow, site.volume) = (*flow, *volume);
        }
    }
}
