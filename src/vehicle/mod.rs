//! Tankers, pumpers and what they carry; `file` reads them from a fleet file and checks them.

mod file;

use crate::finding::{Code, Outcome, Refusal, Where};
use crate::place::Place;
use crate::units::{Feet, Gallons, GallonsPerMinute, Inches, Kilograms, Metres, Psi, Seconds};
use serde::{Deserialize, Serialize};

/// Whether the tank is full: loaded and empty are two vehicles on the road.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Load {
    Full,
    Empty,
}

impl Load {
    pub fn as_str(self) -> &'static str {
        match self {
            Load::Full => "full",
            Load::Empty => "empty",
        }
    }
}

/// What the road sees of a vehicle at one load.
#[derive(Clone, Debug, PartialEq)]
pub struct Body {
    /// Actual mass at this load.
    pub mass: Kilograms,
    /// Rated (permitted) mass, which does not change with the load.
    pub rated_mass: Kilograms,
    /// Heaviest single axle at this load.
    pub axle_load: Kilograms,
    /// Both axles of a tandem at this load; zero for a truck without one.
    pub bogie_load: Kilograms,
    pub height: Metres,
    pub width: Metres,
    pub length: Metres,
    /// Rated engine power; without it grades are not climbed any slower.
    pub power_hp: Option<f64>,
    pub load: Load,
}

impl Body {
    /// A vehicle that no physical limit stops: what is left are the roads themselves.
    pub fn weightless() -> Body {
        Body {
            mass: Kilograms::ZERO,
            rated_mass: Kilograms::ZERO,
            axle_load: Kilograms::ZERO,
            bogie_load: Kilograms::ZERO,
            height: Metres::ZERO,
            width: Metres::ZERO,
            length: Metres::ZERO,
            power_hp: None,
            load: Load::Empty,
        }
    }
}

#[derive(Clone, Debug, PartialEq)]
pub struct Chassis {
    pub id: String,
    pub station: Option<Place>,
    pub turnout: Seconds,
    /// Mutual aid: what it is called with, such as "second alarm". None for what comes by itself.
    pub call: Option<String>,
    pub mass_empty: Kilograms,
    pub mass_full: Kilograms,
    pub rated_mass: Kilograms,
    /// A tandem rear axle: a truck of three axles or more.
    pub tandem: bool,
    pub axle_load_empty: Kilograms,
    pub axle_load_full: Kilograms,
    pub height: Metres,
    pub width: Metres,
    pub length: Metres,
    pub power_hp: Option<f64>,
}

impl Chassis {
    pub fn body(&self, load: Load) -> Body {
        let (mass, axle_load) = match load {
            Load::Full => (self.mass_full, self.axle_load_full),
            Load::Empty => (self.mass_empty, self.axle_load_empty),
        };
        Body {
            mass,
            rated_mass: self.rated_mass,
            axle_load,
            bogie_load: if self.tandem { axle_load * 2.0 } else { Kilograms::ZERO },
            height: self.height,
            width: self.width,
            length: self.length,
            power_hp: self.power_hp,
            load,
        }
    }
}

#[derive(Clone, Debug, PartialEq)]
pub struct Tanker {
    pub chassis: Chassis,
    /// Nominal tank.
    pub tank: Gallons,
    /// What one trip delivers: the tank less the part that never arrives.
    pub usable: Gallons,
    /// Greatest rate at which the tank can be filled.
    pub intake: GallonsPerMinute,
    /// Unloading rate averaged over the unloading.
    pub dump_rate: GallonsPerMinute,
    pub fill_handling: Seconds,
    pub dump_handling: Seconds,
}

#[derive(Clone, Debug, PartialEq)]
pub struct HoseStock {
    pub diameter: Inches,
    pub length: Feet,
}

/// Where a pumper is meant to stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Role {
    /// At the dump site, drafting from the portable tanks; a second one feeds the siphons.
    Draft,
    /// At a fill site, filling tankers.
    Fill,
    /// At the fire.
    Attack,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Pumper {
    pub chassis: Chassis,
    pub role: Option<Role>,
    /// Rated capacity at draft, 150 psi, 10 ft of lift.
    pub rated: GallonsPerMinute,
    /// Pressure it gives the supply line.
    pub pressure: Psi,
    pub suctions: u32,
    pub hose: Vec<HoseStock>,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Fleet {
    pub tankers: Vec<Tanker>,
    pub pumpers: Vec<Pumper>,
    /// Nominal volumes.
    pub portable_tanks: Vec<Gallons>,
    pub siphons: u32,
}

impl Fleet {
    /// By tanker: it comes by itself, without being called.
    pub fn due(&self) -> Vec<bool> {
        self.tankers.iter().map(|t| t.chassis.call.is_none()).collect()
    }

    /// Pumpers that come by themselves.
    pub fn due_pumpers(&self) -> impl Iterator<Item = &Pumper> {
        self.pumpers.iter().filter(|p| p.chassis.call.is_none())
    }

    /// The tanker or pumper with this id.
    pub fn chassis(&self, id: &str) -> Option<&Chassis> {
        let tankers = self.tankers.iter().map(|t| &t.chassis);
        tankers.chain(self.pumpers.iter().map(|p| &p.chassis)).find(|c| c.id == id)
    }

    /// The pumper at the dump site: the largest meant for it, else the largest not meant elsewhere,
    /// else the largest.
    pub fn draft_pumper(&self) -> Option<&Pumper> {
        self.largest(&[Some(Role::Draft)])
            .or_else(|| self.largest(&[None]))
            .or_else(|| self.largest(&[Some(Role::Attack), Some(Role::Fill)]))
    }

    /// The pumper that feeds siphons at the dump site: the largest but one that is meant for drafting.
    pub fn transfer_pumper(&self) -> Option<&Pumper> {
        let first = self.draft_pumper().map(|p| p.chassis.id.as_str());
        let others = self.pumpers.iter().filter(|p| Some(p.chassis.id.as_str()) != first);
        others.filter(|p| p.role == Some(Role::Draft)).max_by(|a, b| a.rated.0.total_cmp(&b.rated.0))
    }

    /// The pumper that fills tankers where no pressure does: one that is not drafting at the dump site.
    pub fn fill_pumper(&self) -> Option<&Pumper> {
        let drafting = self.draft_pumper().map(|p| p.chassis.id.as_str());
        let spare = |p: &&Pumper| p.role == Some(Role::Fill) || p.role.is_none();
        let others = self.due_pumpers().filter(spare).filter(|p| Some(p.chassis.id.as_str()) != drafting);
        others.max_by(|a, b| a.rated.0.total_cmp(&b.rated.0))
    }

    /// Pumpers whose hose lies between dump site and fire.
    pub fn supply_pumpers(&self) -> impl Iterator<Item = &Pumper> {
        self.due_pumpers().filter(|p| p.role != Some(Role::Fill))
    }

    fn largest(&self, roles: &[Option<Role>]) -> Option<&Pumper> {
        let of_role = self.due_pumpers().filter(|p| roles.contains(&p.role));
        of_role.max_by(|a, b| a.rated.0.total_cmp(&b.rated.0))
    }

    /// Says which ids there are when one is not found.
    pub fn chassis_or_refuse(&self, id: &str, file: &str) -> Outcome<&Chassis> {
        self.chassis(id).ok_or_else(|| {
            let known: Vec<&str> = self
                .tankers
                .iter()
                .map(|t| t.chassis.id.as_str())
                .chain(self.pumpers.iter().map(|p| p.chassis.id.as_str()))
                .collect();
            Refusal::new(
                Code::InputInvalid,
                Where::file(file).named(id),
                "no vehicle has this id",
                format!("use one of: {}", known.join(", ")),
            )
        })
    }
}
