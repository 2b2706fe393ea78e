//! Why a road is closed, and what a driver should know about an open one.

use crate::roads::limits::Kind;
use crate::units::{Kilograms, Metres};
use std::fmt;

/// What a driver should know about an open road. Bits, so that a road can carry several.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Flags(pub u32);

impl Flags {
    pub const PRIVATE: Flags = Flags(1);
    pub const TRACK: Flags = Flags(1 << 1);
    /// Passing takes as long as opening a gate.
    pub const GATE: Flags = Flags(1 << 2);
    pub const RATING: Flags = Flags(1 << 3);
    pub const HGV: Flags = Flags(1 << 4);
    pub const CONTRAFLOW: Flags = Flags(1 << 5);
    pub const NO_ACCESS_OPENED: Flags = Flags(1 << 7);
    pub const BUS: Flags = Flags(1 << 8);
    /// A condition nobody could decide.
    pub const UNDECIDED: Flags = Flags(1 << 9);
    /// A limit that its sign lifts for this traffic.
    pub const EXEMPT: Flags = Flags(1 << 10);
    pub const SEASONAL: Flags = Flags(1 << 11);
    pub const FORD: Flags = Flags(1 << 12);
    pub const FERRY: Flags = Flags(1 << 13);
    /// A one-way that the map lifts for emergency vehicles.
    pub const CONTRAFLOW_SIGNED: Flags = Flags(1 << 14);
    /// Toll booth or border control.
    pub const STOP: Flags = Flags(1 << 15);
    pub const LOCKED: Flags = Flags(1 << 16);
    pub const UNMEASURED: Flags = Flags(1 << 17);
    pub const VERY_ROUGH: Flags = Flags(1 << 18);
    pub const GAP: Flags = Flags(1 << 19);

    pub fn has(self, flag: Flags) -> bool {
        self.0 & flag.0 != 0
    }
    pub fn add(&mut self, flag: Flags) {
        self.0 |= flag.0;
    }
}

/// Why a road is closed.
#[derive(Clone, Debug, PartialEq)]
pub enum Closure {
    Weight {
        posted: Kilograms,
        vehicle: Kilograms,
    },
    RatedWeight {
        posted: Kilograms,
        vehicle: Kilograms,
    },
    AxleLoad {
        posted: Kilograms,
        vehicle: Kilograms,
    },
    BogieLoad {
        posted: Kilograms,
        vehicle: Kilograms,
    },
    Height {
        posted: Metres,
        vehicle: Metres,
    },
    Width {
        posted: Metres,
        vehicle: Metres,
    },
    Length {
        posted: Metres,
        vehicle: Metres,
    },
    Unreadable {
        key: &'static str,
        text: Box<str>,
    },
    OneWay,
    NoAccess,
    Private,
    Hgv,
    Track {
        grade: u8,
    },
    Impassable,
    VeryRough,
    Ford,
    Ferry,
    Frozen,
    Season,
    Barrier,
    Locked,
    HeightFrame,
    /// A weight below the vehicle's that is known, not posted; by whom.
    KnownWeight {
        limit: Kilograms,
        vehicle: Kilograms,
        said: Box<str>,
    },
    /// Closed by an overlay; why.
    Overlay(Box<str>),
}

impl Closure {
    /// In kilograms or metres.
    pub fn limit(kind: Kind, posted: f64, vehicle: f64) -> Closure {
        let masses = (Kilograms(posted), Kilograms(vehicle));
        let lengths = (Metres(posted), Metres(vehicle));
        match (kind, masses, lengths) {
            (Kind::Weight, (posted, vehicle), _) => Closure::Weight { posted, vehicle },
            (Kind::Rating, (posted, vehicle), _) => Closure::RatedWeight { posted, vehicle },
            (Kind::Axle, (posted, vehicle), _) => Closure::AxleLoad { posted, vehicle },
            (Kind::Bogie, (posted, vehicle), _) => Closure::BogieLoad { posted, vehicle },
            (Kind::Height, _, (posted, vehicle)) => Closure::Height { posted, vehicle },
            (Kind::Width, _, (posted, vehicle)) => Closure::Width { posted, vehicle },
            (Kind::Length, _, (posted, vehicle)) => Closure::Length { posted, vehicle },
        }
    }

    /// The stable spelling used in tables.
    pub fn as_str(&self) -> &'static str {
        match self {
            Closure::Weight { .. } => "weight",
            Closure::RatedWeight { .. } => "rated-weight",
            Closure::AxleLoad { .. } => "axle-load",
            Closure::BogieLoad { .. } => "bogie-load",
            Closure::Height { .. } => "height",
            Closure::Width { .. } => "width",
            Closure::Length { .. } => "length",
            Closure::Unreadable { .. } => "unreadable",
            Closure::OneWay => "one-way",
            Closure::NoAccess => "no-access",
            Closure::Private => "private",
            Closure::Hgv => "hgv",
            Closure::Track { .. } => "track",
            Closure::Impassable => "impassable",
            Closure::VeryRough => "very-rough",
            Closure::Ford => "ford",
            Closure::Ferry => "ferry",
            Closure::Frozen => "frozen",
            Closure::Season => "season",
            Closure::Barrier => "barrier",
            Closure::Locked => "locked",
            Closure::HeightFrame => "height-frame",
            Closure::KnownWeight { .. } => "known-weight",
            Closure::Overlay(_) => "overlay",
        }
    }

    /// A named override can open it; a physical limit never.
    pub fn is_legal_only(&self) -> bool {
        matches!(
            self,
            Closure::OneWay
                | Closure::NoAccess
                | Closure::Private
                | Closure::Hgv
                | Closure::RatedWeight { .. }
                | Closure::Locked
        )
    }
}

/// Shown figures never hide the margin: what is posted is rounded down, the vehicle up.
fn down(value: f64, digits: i32) -> f64 {
    let scale = 10f64.powi(digits);
    (value * scale + 1e-6).floor() / scale
}

fn up(value: f64, digits: i32) -> f64 {
    let scale = 10f64.powi(digits);
    (value * scale - 1e-6).ceil() / scale
}

impl fmt::Display for Closure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let posted_t = |k: &Kilograms| format!("{:.1} t", down(k.tonnes(), 1));
        let vehicle_t = |k: &Kilograms| format!("{:.1} t", up(k.tonnes(), 1));
        let lengths = |posted: &Metres, vehicle: &Metres, digits: i32| {
            let shown = digits.unsigned_abs() as usize;
            format!("{:.shown$} m, vehicle {:.shown$} m", down(posted.0, digits), up(vehicle.0, digits))
        };
        match self {
            Closure::Weight { posted, vehicle } => {
                write!(f, "posted {}, vehicle {}", posted_t(posted), vehicle_t(vehicle))
            }
            Closure::RatedWeight { posted, vehicle } => {
                write!(f, "posted {} rated weight, vehicle rated {}", posted_t(posted), vehicle_t(vehicle))
            }
            Closure::AxleLoad { posted, vehicle } => {
                write!(f, "posted {} per axle, vehicle {}", posted_t(posted), vehicle_t(vehicle))
            }
            Closure::BogieLoad { posted, vehicle } => {
                write!(f, "posted {} per bogie, vehicle {}", posted_t(posted), vehicle_t(vehicle))
            }
            Closure::Height { posted, vehicle } => write!(f, "posted height {}", lengths(posted, vehicle, 2)),
            Closure::Width { posted, vehicle } => write!(f, "width {}", lengths(posted, vehicle, 2)),
            Closure::Length { posted, vehicle } => write!(f, "posted length {}", lengths(posted, vehicle, 1)),
            Closure::Unreadable { key, text } => write!(f, "{key}={text} cannot be read"),
            Closure::OneWay => write!(f, "one-way against the direction of travel"),
            Closure::NoAccess => write!(f, "closed to traffic (access=no)"),
            Closure::Private => write!(f, "private or restricted road, closed by policy"),
            Closure::Hgv => write!(f, "closed to heavy goods vehicles, closed by policy"),
            Closure::Track { grade } => write!(f, "track of grade {grade}, closed by policy"),
            Closure::Impassable => write!(f, "too rough for a truck"),
            Closure::VeryRough => write!(f, "too rough for a truck, closed by policy"),
            Closure::Ford => write!(f, "ford, closed by policy"),
            Closure::Ferry => write!(f, "ferry, closed by policy"),
            Closure::Frozen => write!(f, "winter or ice road, closed by policy"),
            Closure::Season => write!(f, "out of use in the month asked for"),
            Closure::Barrier => write!(f, "barrier a truck cannot pass"),
            Closure::Locked => write!(f, "locked gate, closed by policy"),
            Closure::HeightFrame => write!(f, "height frame without a posted height"),
            Closure::KnownWeight { limit, vehicle, said } => {
                write!(f, "known weight {}, vehicle {}: {said}", posted_t(limit), vehicle_t(vehicle))
            }
            Closure::Overlay(said) => write!(f, "closed: {said}"),
        }
    }
}
