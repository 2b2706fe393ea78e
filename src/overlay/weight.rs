//! A known weight fills in what nobody posted, replaces what nobody can read and lowers what is
//! posted. It never raises it: what stands on a sign stands until the sign is changed.

use crate::roads::limits::Posted;
use crate::roads::local::{KnownWeight, Posting, Said};
use crate::roads::tags::RoadTags;
use crate::units::Kilograms;

/// What came of it.
#[derive(Clone, Debug, PartialEq)]
pub enum Settled {
    Known,
    /// A sign, perhaps for one direction or at times, is stricter.
    Stands(Kilograms),
}

pub fn settle(tags: &mut RoadTags, limit: Kilograms, said: Said) -> Settled {
    let mut stricter: Option<Kilograms> = None;
    let mut was = Posting::None;
    let mut look = |posted: &Posted<Kilograms>| match posted {
        Posted::At(posted) if posted.0 < limit.0 => {
            stricter = Some(stricter.map_or(*posted, |known| known.min(*posted)));
        }
        Posted::At(posted) if was == Posting::None => was = Posting::Higher(*posted),
        Posted::At(_) | Posted::None => {}
        Posted::Unreadable(text) => was = Posting::Unreadable(text.clone()),
    };
    let mut both = tags.limits.take().unwrap_or_default();
    look(&both.weight);
    if let Some(special) = &mut tags.special {
        for side in &mut special.limits {
            look(&side.weight);
            if matches!(side.weight, Posted::Unreadable(_)) {
                side.weight = Posted::None;
            }
        }
        for rule in
            special.limit_rules.iter_mut().filter(|rule| rule.kind == crate::roads::limits::Kind::Weight)
        {
            match &rule.value {
                Posted::At(kilograms) => look(&Posted::At(Kilograms(*kilograms))),
                Posted::None => {}
                Posted::Unreadable(text) => {
                    look(&Posted::Unreadable(text.clone()));
                    rule.value = Posted::At(limit.0);
                }
            }
        }
    }
    // What holds in both directions at all times caps every sign for one direction or an hour.
    let stands = matches!(both.weight, Posted::At(posted) if posted.0 <= limit.0);
    if !stands {
        both.weight = Posted::At(limit);
        let mut local = tags.local.take().unwrap_or_default();
        local.weight = Some(KnownWeight { limit, said, was });
        tags.local = Some(local);
    }
    tags.limits = Some(both);
    stricter.map_or(Settled::Known, Settled::Stands)
}
