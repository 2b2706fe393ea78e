//! What a bridge carries, as far as anybody knows.

use crate::finding::{Code, Finding, Where};
use crate::roads::limits::{Kind, Limits};
use crate::roads::local::{KnownWeight, Posting};
use crate::roads::tags::RoadTags;

/// The weight of a bridge where no sign says it.
#[derive(Clone, Debug, PartialEq)]
pub enum Weight {
    Unknown,
    Known(KnownWeight),
}

/// None where a sign says it, and where there is no bridge.
pub fn weight(tags: &RoadTags) -> Option<Weight> {
    if let Some(known) = tags.local.as_ref().and_then(|local| local.weight.clone()) {
        return Some(Weight::Known(known));
    }
    let posted = |limits: &Limits| !limits.weight.is_none();
    let signed = tags.limits.as_ref().is_some_and(|limits| posted(limits))
        || tags.special.as_ref().is_some_and(|special| {
            // A sign that holds at times says nothing of the others.
            let always = special.limit_rules.iter().filter(|rule| rule.when.is_none());
            special.limits.iter().any(posted) || always.into_iter().any(|rule| rule.kind == Kind::Weight)
        });
    (tags.bridge && !signed).then_some(Weight::Unknown)
}

impl Weight {
    pub fn code(&self) -> Code {
        match self {
            Weight::Unknown => Code::BridgeUnposted,
            Weight::Known(_) => Code::BridgeKnown,
        }
    }

    /// Told with who crosses it, and how heavy.
    pub fn finding(&self, place: Where, crossing: &str) -> Finding {
        let (cause, action) = match self {
            Weight::Unknown => (
                format!("no weight is posted for this bridge; {crossing}; unknown is not unlimited"),
                "ask the bridge's owner for its rating and put it into an overlay as known_weight",
            ),
            Weight::Known(known) => {
                let limit = format!("{:.1} t is known: {}", known.limit.tonnes(), known.said);
                let map = match &known.was {
                    Posting::None => "no weight is posted for this bridge".to_string(),
                    Posting::Higher(posted) => format!("{:.1} t is posted here", posted.tonnes()),
                    Posting::Unreadable(text) => format!("maxweight={text} cannot be read"),
                };
                (format!("{map}; {limit}; {crossing}"), "have it written onto the sign and the map")
            }
        };
        Finding::new(self.code(), place, cause, action)
    }
}
