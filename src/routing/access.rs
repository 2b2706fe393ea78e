//! May this vehicle, at this load, use this road? Open (with what a driver should know) or closed
//! (with the reason and its margin).

use crate::roads::limits::{Limits, Posted};
use crate::roads::tags::{Barrier, Class, NodeTags, OneWay, Permit, RoadTags, Smoothness};
use crate::units::{Kilograms, Metres};
use crate::vehicle::{Body, Load};
use serde::Deserialize;
use std::fmt;

/// Legal closures that a request opens by name. Physical limits are not here and never will be.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Policy {
    /// Use private roads (emergency access is the officer's call; each use is flagged).
    pub private: bool,
    /// Drive through destination-only roads.
    pub destination: bool,
    /// Use roads signed for farm or forest traffic only.
    pub farm: bool,
    /// Use roads restricted for heavy goods vehicles.
    pub hgv_restricted: bool,
    /// Use roads whose sign limits the rated, not the actual, mass.
    pub rating_limit: bool,
    /// Worst `tracktype` grade to use.
    pub worst_track_grade: u8,
    pub ford: bool,
    /// Way ids closed by access=no that this request opens.
    pub open_ways: Vec<i64>,
    /// One-way way ids that this request uses against their direction.
    pub contraflow_ways: Vec<i64>,
}

impl Default for Policy {
    fn default() -> Self {
        Policy {
            private: true,
            destination: true,
            farm: true,
            hgv_restricted: true,
            rating_limit: true,
            worst_track_grade: 3,
            ford: false,
            open_ways: Vec::new(),
            contraflow_ways: Vec::new(),
        }
    }
}

/// What a driver should know about an open road. Bits, so that a road can carry several.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Flags(pub u16);

impl Flags {
    pub const PRIVATE: Flags = Flags(1);
    pub const TRACK: Flags = Flags(2);
    pub const GATE: Flags = Flags(4);
    pub const RATING: Flags = Flags(8);
    pub const HGV: Flags = Flags(16);
    pub const CONTRAFLOW: Flags = Flags(32);
    pub const BRIDGE_UNPOSTED: Flags = Flags(64);
    pub const NO_ACCESS_OPENED: Flags = Flags(128);

    pub fn has(self, flag: Flags) -> bool {
        self.0 & flag.0 != 0
    }
    fn add(&mut self, flag: Flags) {
        self.0 |= flag.0;
    }
}

/// Why a road is closed.
#[derive(Clone, Debug, PartialEq)]
pub enum Closure {
    Weight { posted: Kilograms, vehicle: Kilograms },
    RatedWeight { posted: Kilograms, vehicle: Kilograms },
    AxleLoad { posted: Kilograms, vehicle: Kilograms },
    BogieLoad { posted: Kilograms, vehicle: Kilograms },
    Height { posted: Metres, vehicle: Metres },
    Width { posted: Metres, vehicle: Metres },
    Length { posted: Metres, vehicle: Metres },
    Unreadable { key: &'static str, text: Box<str> },
    OneWay,
    NoAccess,
    Private,
    Hgv,
    Track { grade: u8 },
    Impassable,
    Ford,
    Frozen,
    Barrier,
    HeightFrame,
}

impl Closure {
    /// A named override can open it; a physical limit never.
    pub fn is_legal_only(&self) -> bool {
        matches!(
            self,
            Closure::OneWay
                | Closure::NoAccess
                | Closure::Private
                | Closure::Hgv
                | Closure::RatedWeight { .. }
        )
    }
}

impl fmt::Display for Closure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let tonnes = |k: &Kilograms| format!("{:.1} t", k.tonnes());
        match self {
            Closure::Weight { posted, vehicle } => {
                write!(f, "posted {}, vehicle {}", tonnes(posted), tonnes(vehicle))
            }
            Closure::RatedWeight { posted, vehicle } => {
                write!(f, "posted {} rated weight, vehicle rated {}", tonnes(posted), tonnes(vehicle))
            }
            Closure::AxleLoad { posted, vehicle } => {
                write!(f, "posted {} per axle, vehicle {}", tonnes(posted), tonnes(vehicle))
            }
            Closure::BogieLoad { posted, vehicle } => {
                write!(f, "posted {} per bogie, vehicle {}", tonnes(posted), tonnes(vehicle))
            }
            Closure::Height { posted, vehicle } => {
                write!(f, "posted height {posted:.2}, vehicle {vehicle:.2}")
            }
            Closure::Width { posted, vehicle } => write!(f, "width {posted:.2}, vehicle {vehicle:.2}"),
            Closure::Length { posted, vehicle } => {
                write!(f, "posted length {posted:.1}, vehicle {vehicle:.1}")
            }
            Closure::Unreadable { key, text } => write!(f, "{key}={text} cannot be read"),
            Closure::OneWay => write!(f, "one-way against the direction of travel"),
            Closure::NoAccess => write!(f, "closed to traffic (access=no)"),
            Closure::Private => write!(f, "private or restricted road, closed by policy"),
            Closure::Hgv => write!(f, "closed to heavy goods vehicles, closed by policy"),
            Closure::Track { grade } => write!(f, "track of grade {grade}, closed by policy"),
            Closure::Impassable => write!(f, "too rough for a truck"),
            Closure::Ford => write!(f, "ford, closed by policy"),
            Closure::Frozen => write!(f, "winter or ice road, closed by policy"),
            Closure::Barrier => write!(f, "barrier a truck cannot pass"),
            Closure::HeightFrame => write!(f, "height frame without a posted height"),
        }
    }
}

pub type Verdict = Result<Flags, Closure>;

/// Judges a way apart from its direction.
pub fn way(id: i64, tags: &RoadTags, body: &Body, policy: &Policy) -> Verdict {
    let mut flags = Flags::default();
    if tags.smoothness == Smoothness::Impassable || tags.smoothness == Smoothness::Horrible {
        return Err(Closure::Impassable);
    }
    if let Some(limits) = &tags.limits {
        check_limits(limits, body, policy, &mut flags)?;
    }
    if let Some(width) = tags.width
        && !tags.width_estimated
        && width.0 < body.width.0
    {
        return Err(Closure::Width { posted: width, vehicle: body.width });
    }
    if tags.ford && !policy.ford {
        return Err(Closure::Ford);
    }
    if tags.frozen {
        return Err(Closure::Frozen);
    }
    if tags.class == Class::Track {
        if tags.grade > policy.worst_track_grade {
            return Err(Closure::Track { grade: tags.grade });
        }
        flags.add(Flags::TRACK);
    }
    // `emergency=yes` opens what is closed to the public; otherwise the public sign counts.
    if tags.emergency != Permit::Yes {
        match tags.motor {
            Permit::Unset | Permit::Yes => {}
            Permit::Destination if policy.destination => flags.add(Flags::PRIVATE),
            Permit::Private | Permit::Unknown if policy.private => flags.add(Flags::PRIVATE),
            Permit::Farm if policy.farm => flags.add(Flags::PRIVATE),
            Permit::No if policy.open_ways.contains(&id) => flags.add(Flags::NO_ACCESS_OPENED),
            Permit::No => return Err(Closure::NoAccess),
            _ => return Err(Closure::Private),
        }
        if tags.emergency == Permit::No {
            return Err(Closure::NoAccess);
        }
    }
    if matches!(tags.hgv, Permit::No | Permit::Destination | Permit::Private | Permit::Farm) {
        if !policy.hgv_restricted {
            return Err(Closure::Hgv);
        }
        flags.add(Flags::HGV);
    }
    if tags.bridge && tags.limits.as_ref().is_none_or(|l| l.weight.is_none()) && body.load == Load::Full {
        flags.add(Flags::BRIDGE_UNPOSTED);
    }
    Ok(flags)
}

/// Judges a way's direction of travel.
pub fn direction(id: i64, tags: &RoadTags, forward: bool, policy: &Policy) -> Verdict {
    let against = match tags.one_way {
        OneWay::No => false,
        OneWay::Forward => !forward,
        OneWay::Backward => forward,
        OneWay::Changing => true,
    };
    if !against {
        return Ok(Flags::default());
    }
    // Contraflow on a roundabout or a changing lane is a collision, not an override.
    let may = !tags.roundabout && tags.one_way != OneWay::Changing;
    if may && policy.contraflow_ways.contains(&id) { Ok(Flags::CONTRAFLOW) } else { Err(Closure::OneWay) }
}

/// Judges what stands on a node.
pub fn node(tags: &NodeTags, body: &Body, policy: &Policy) -> Verdict {
    let mut flags = Flags::default();
    if let Some(limits) = &tags.limits {
        check_limits(limits, body, policy, &mut flags)?;
    }
    match tags.barrier {
        None | Some(Barrier::Passable) => {}
        Some(Barrier::Opens) => {
            let opened = tags.emergency == Permit::Yes;
            match tags.motor {
                Permit::No if !opened => return Err(Closure::NoAccess),
                Permit::Private | Permit::Unknown if !opened && !policy.private => {
                    return Err(Closure::Private);
                }
                _ => flags.add(Flags::GATE),
            }
        }
        Some(Barrier::Blocks | Barrier::Unknown) => return Err(Closure::Barrier),
        Some(Barrier::HeightFrame) => return Err(Closure::HeightFrame),
    }
    Ok(flags)
}

fn check_limits(limits: &Limits, body: &Body, policy: &Policy, flags: &mut Flags) -> Result<(), Closure> {
    let load = body.load;
    let weight = |posted, vehicle| Closure::Weight { posted, vehicle };
    let axle = |posted, vehicle| Closure::AxleLoad { posted, vehicle };
    let bogie = |posted, vehicle| Closure::BogieLoad { posted, vehicle };
    let rated = |posted, vehicle| Closure::RatedWeight { posted, vehicle };
    let height = |posted, vehicle| Closure::Height { posted, vehicle };
    let width = |posted, vehicle| Closure::Width { posted, vehicle };
    let length = |posted, vehicle| Closure::Length { posted, vehicle };
    judge("maxweight", &limits.weight, body.mass, load, weight)?;
    judge("maxaxleload", &limits.axle, body.axle_load, load, axle)?;
    judge("maxbogieweight", &limits.bogie, body.bogie_load, load, bogie)?;
    judge("maxheight", &limits.height, body.height, load, height)?;
    judge("maxwidth", &limits.width, body.width, load, width)?;
    judge("maxlength", &limits.length, body.length, load, length)?;
    match judge("maxweightrating", &limits.rating, body.rated_mass, load, rated) {
        Err(Closure::RatedWeight { .. }) if policy.rating_limit => flags.add(Flags::RATING),
        judged => judged?,
    }
    Ok(())
}

/// Equality passes: a bridge posted 15 t carries 15 t. A sign nobody can read closes the road to the
/// loaded leg.
fn judge<T: PartialOrd + Copy>(
    key: &'static str,
    posted: &Posted<T>,
    vehicle: T,
    load: Load,
    closure: impl Fn(T, T) -> Closure,
) -> Result<(), Closure> {
    match posted {
        Posted::At(posted) if vehicle > *posted => Err(closure(*posted, vehicle)),
        Posted::Unreadable(text) if load == Load::Full => {
            Err(Closure::Unreadable { key, text: text.clone() })
        }
        _ => Ok(()),
    }
}
