//! One building, every method beside each other: what each finds, what it took for granted, and
//! why one does not apply.

use super::written::{ConstructionClass, METHODS};
use super::*;
use crate::units::{Gallons, GallonsPerMinute};

/// A building on fire as an officer describes it; feet, square feet, and plain numbers. What is
/// left out only costs the methods that need it.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FireBuilding {
    /// Outside measures.
    pub length_ft: Feet,
    pub width_ft: Feet,
    /// Heights of the storeys and half of the ridge above them.
    pub height_ft: Option<Feet>,
    /// Storeys of the building.
    #[serde(default = "one_floor")]
    pub floors: u32,
    /// Storeys that burn; all of them where not given.
    pub burning_floors: Option<u32>,
    /// Share of each burning floor that burns; all of it where not given.
    pub involved: Option<f64>,
    /// Occupancy hazard classification, 3 severe to 7 light.
    pub occupancy_class: Option<u8>,
    pub construction_class: Option<ConstructionClass>,
    /// Construction classification number in place of the class's.
    pub construction_number: Option<f64>,
    /// Greatest construction number of a dwelling, where the edition in force has one.
    pub dwelling_cap: Option<f64>,
    /// Exposed buildings.
    #[serde(default)]
    pub exposures: u32,
    #[serde(default)]
    pub exposure_rule: ExposureRule,
    #[serde(default)]
    pub sprinklered: bool,
    /// Length, width and height of the largest single open space; the whole building where not given.
    pub open_space_ft: Option<[Feet; 3]>,
    /// ISO's effective area.
    pub iso_area_ft2: Option<f64>,
    /// ISO's construction in place of the one that the class stands for.
    pub iso_construction: Option<IsoConstruction>,
    pub iso_occupancy: Option<f64>,
    pub iso_exposure: Option<f64>,
    pub iso_communication: Option<f64>,
}

impl Construction {
    fn roman(self) -> &'static str {
        match self {
            Construction::I => "I",
            Construction::Ii => "II",
            Construction::Iii => "III",
            Construction::Iv => "IV",
            Construction::V => "V",
        }
    }
    /// What ISO calls it: heavy timber stands with joisted masonry (from memory of ISO's schedule).
    fn iso(self) -> IsoConstruction {
        match self {
            Construction::I => IsoConstruction::FireResistive,
            Construction::Ii => IsoConstruction::Noncombustible,
            Construction::Iii | Construction::Iv => IsoConstruction::JoistedMasonry,
            Construction::V => IsoConstruction::Frame,
        }
    }
}

/// What one method says of a building.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    pub method: Method,
    pub found: Result<Needed, NotWorkedOut>,
    /// What was not given and taken for granted, and how the inputs count.
    pub assumed: Vec<String>,
}

/// Why a method gives no figure.
#[derive(Clone, Debug, PartialEq)]
pub enum NotWorkedOut {
    /// Keys of [`FireBuilding`] that are not given.
    Lacks(Vec<&'static str>),
    /// The method is not made for such a building.
    Unfit(&'static str),
}

impl NotWorkedOut {
    /// `key` writes a key the way the reader gives it.
    pub fn text(&self, key: impl Fn(&str) -> String) -> String {
        match self {
            NotWorkedOut::Lacks(keys) => {
                format!("not given: {}", keys.iter().map(|k| key(k)).collect::<Vec<_>>().join(", "))
            }
            NotWorkedOut::Unfit(why) => why.to_string(),
        }
    }
}

/// Longest wall of any building, feet: a slip of the keyboard is seen.
const LONGEST_FT: f64 = 10_000.0;
const TALLEST_FT: f64 = 3_000.0;

impl FireBuilding {
    /// The four methods in the order of [`METHODS`].
    /// Errors: unusable numbers, each named by its key.
    pub fn figures(&self) -> Checked<Vec<Figure>> {
        self.check()?;
        METHODS
            .iter()
            .map(|method| match method {
                Method::MinimumSupply => self.minimum_supply(),
                Method::Iowa => self.iowa(),
                Method::NationalFireAcademy => self.national_fire_academy(),
                _ => self.iso(),
            })
            .collect()
    }

    /// Every number by its key, whether a method uses it or not.
    fn check(&self) -> Checked<()> {
        let wall = "give feet from 1 to 10,000";
        let tall = "give feet from 1 to 3,000: the heights of the storeys and half of the ridge above them";
        within("length_ft", self.length_ft.get(), 1.0..=LONGEST_FT, wall)?;
        within("width_ft", self.width_ft.get(), 1.0..=LONGEST_FT, wall)?;
        let optional = |key, value: Option<f64>, range, remedy: &str| {
            value.map_or(Ok(0.0), |value| within(key, value, range, remedy))
        };
        optional("height_ft", self.height_ft.map(Feet::get), 1.0..=TALLEST_FT, tall)?;
        let count = |key, value: u32, least: u32, remedy: &str| {
            within(key, f64::from(value), f64::from(least)..=100.0, remedy)
        };
        count("floors", self.floors, 1, "give the storeys of the building, 1 to 100")?;
        if let Some(burning) = self.burning_floors {
            count("burning_floors", burning, 1, "give the storeys that burn, 1 to 100")?;
            if burning > self.floors {
                let remedy = format!("the building has {}; give no more, or its floors", self.floors);
                return Err(BadInput::new("burning_floors", f64::from(burning), remedy));
            }
        }
        optional("involved", self.involved, 0.01..=1.0, "give the share of a floor that burns, 0.01 to 1")?;
        let class = self.occupancy_class.map(f64::from);
        optional("occupancy_class", class, 3.0..=7.0, "give 3 (severe hazard) to 7 (light hazard)")?;
        let number = "give a construction classification number from 0.1 to 5";
        optional("construction_number", self.construction_number, 0.1..=5.0, number)?;
        optional("dwelling_cap", self.dwelling_cap, 0.1..=5.0, number)?;
        count("exposures", self.exposures, 0, "give the exposed buildings, 0 to 100")?;
        for side in self.open_space_ft.iter().flatten() {
            let remedy = "give its length, width and height, feet from 1 to 10,000";
            within("open_space_ft", side.get(), 1.0..=LONGEST_FT, remedy)?;
        }
        optional("iso_area_ft2", self.iso_area_ft2, 1.0..=1e8, "give square feet from 1 to 100 million")?;
        optional(
            "iso_occupancy",
            self.iso_occupancy,
            0.75..=1.25,
            "give 0.75 (light) to 1.25 (rapid burning)",
        )?;
        optional("iso_exposure", self.iso_exposure, 0.0..=1.0, "give 0 to 1")?;
        optional("iso_communication", self.iso_communication, 0.0..=1.0, "give 0 to 1")?;
        Ok(())
    }

    fn minimum_supply(&self) -> Checked<Figure> {
        let method = Method::MinimumSupply;
        let unfit = "the building has sprinklers: the formula is for one without; ask the authority having jurisdiction";
        if self.sprinklered {
            return Ok(Figure::none(method, NotWorkedOut::Unfit(unfit)));
        }
        let lacks = lacking(&[
            ("height_ft", self.height_ft.is_some()),
            ("occupancy_class", self.occupancy_class.is_some()),
            ("construction_class", self.construction_class.is_some() || self.construction_number.is_some()),
        ]);
        let (Some(height), Some(hazard), true) = (self.height_ft, self.occupancy_class, lacks.is_empty())
        else {
            return Ok(Figure::none(method, NotWorkedOut::Lacks(lacks)));
        };
        let standard = DemandSettings::default();
        let settings = DemandSettings {
            construction_numbers: self.construction_number.map_or(standard.construction_numbers, |n| [n; 5]),
            dwelling_cap: self.dwelling_cap,
            ..standard
        };
        let class = self.construction_class.map_or(Construction::V, |class| class.0);
        let building = Building {
            volume_ft3: building_volume(self.length_ft, self.width_ft, height, Feet(0.0))?,
            occupancy_hazard: hazard,
            construction: class,
            exposures: self.exposures > 0,
            dwelling: self.dwelling_cap.is_some(),
        };
        let needed = building.needed(&settings)?;
        let number = settings.construction_number(class, building.dwelling)?;
        let mut assumed = vec![format!("{:.0} ft³, occupancy class {hazard}", building.volume_ft3.get())];
        assumed.push(match (self.construction_number, self.dwelling_cap) {
            (_, Some(cap)) if number == cap => format!("construction number {number}, the cap of a dwelling"),
            (Some(_), _) => format!("construction number {number} as given"),
            (None, _) => format!("construction class {}: number {number}", class.roman()),
        });
        assumed.push(if building.exposures {
            "exposures: × 1.5, however many".into()
        } else {
            NO_EXPOSURE.into()
        });
        let raw = building.volume_ft3.get() / f64::from(hazard) * number;
        if needed.supply.is_some_and(|least| raw * if building.exposures { 1.5 } else { 1.0 } < least.get()) {
            assumed.push("the least supply for any building".into());
        }
        Ok(Figure { method, found: Ok(needed), assumed })
    }

    fn iowa(&self) -> Checked<Figure> {
        let method = Method::Iowa;
        let (space, said) = match (self.open_space_ft, self.height_ft) {
            (Some([length_ft, width_ft, height_ft]), _) => (
                OpenSpace { length_ft, width_ft, height_ft },
                format!(
                    "open space of {:.0} × {:.0} × {:.0} ft",
                    length_ft.get(),
                    width_ft.get(),
                    height_ft.get()
                ),
            ),
            (None, Some(height_ft)) => (
                OpenSpace { length_ft: self.length_ft, width_ft: self.width_ft, height_ft },
                "the whole building is one open space, for none is given".to_string(),
            ),
            (None, None) => return Ok(Figure::none(method, NotWorkedOut::Lacks(vec!["height_ft"]))),
        };
        let mut assumed = vec![said];
        if self.exposures > 0 {
            assumed.push("exposures are not in it".into());
        }
        Ok(Figure { method, found: Ok(space.needed()?), assumed })
    }

    fn national_fire_academy(&self) -> Checked<Figure> {
        let floor = FireFloor {
            length_ft: self.length_ft,
            width_ft: self.width_ft,
            involved: self.involved.unwrap_or(1.0),
            floors: self.burning_floors.unwrap_or(self.floors),
            exposures: self.exposures,
        };
        let needed = floor.needed(self.exposure_rule)?;
        let floors =
            if floor.floors == 1 { "1 floor".to_string() } else { format!("{} floors", floor.floors) };
        let all = if self.burning_floors.is_none() && self.floors > 1 { ", all there are," } else { "" };
        let share = floor.involved * 100.0;
        let not_given = if self.involved.is_none() { ", for no share is given" } else { "" };
        let mut assumed = vec![format!("{floors}{all} burning over {share:.0} % of the area{not_given}")];
        assumed.push(match (self.exposures, self.exposure_rule) {
            (0, _) => NO_EXPOSURE.into(),
            (n, ExposureRule::AddedInFull) => {
                format!(
                    "exposures: {n}, each a quarter of one whole floor's flow whatever burns (sources differ)"
                )
            }
            (n, ExposureRule::ScaledByShare) => {
                format!("exposures: {n}, each a quarter before share and floors multiply (sources differ)")
            }
        });
        if floor.involved > 0.5 || needed.flow.get() > 1_000.0 {
            assumed.push("doubtful here: more than half of a floor burns, or more than 1,000 gpm".into());
        }
        Ok(Figure { method: Method::NationalFireAcademy, found: Ok(needed), assumed })
    }

    fn iso(&self) -> Checked<Figure> {
        let method = Method::IsoNeededFireFlow;
        if self.sprinklered {
            let unfit = "the building has sprinklers: ISO rates it by what the sprinklers take";
            return Ok(Figure::none(method, NotWorkedOut::Unfit(unfit)));
        }
        let construction = self.iso_construction.or(self.construction_class.map(|class| class.0.iso()));
        let lacks = lacking(&[
            ("construction_class", construction.is_some()),
            // Nothing for a building that stands there would be a figure too low.
            ("iso_exposure", self.exposures == 0 || self.iso_exposure.is_some()),
        ]);
        let (Some(construction), true) = (construction, lacks.is_empty()) else {
            return Ok(Figure::none(method, NotWorkedOut::Lacks(lacks)));
        };
        // The largest floor and half of each of the others (from memory of ISO's schedule; it takes
        // less of the others in fire-resistive buildings with protected openings).
        let floor = self.length_ft.get() * self.width_ft.get();
        let area = self.iso_area_ft2.unwrap_or(floor * (1.0 + 0.5 * f64::from(self.floors - 1)));
        let building = IsoBuilding {
            construction,
            area_ft2: area,
            occupancy: self.iso_occupancy.unwrap_or_else(ordinary_occupancy),
            exposure: self.iso_exposure.unwrap_or(0.0),
            communication: self.iso_communication.unwrap_or(0.0),
        };
        let needed = building.needed()?;
        let of_area =
            if self.iso_area_ft2.is_some() { "as given" } else { "one floor and half of each other" };
        let (f, o) = (construction.coefficient(), building.occupancy);
        let ordinary = if self.iso_occupancy.is_none() { ", ordinary, for none is given" } else { "" };
        let assumed = vec![
            format!("effective area {area:.0} ft², {of_area}"),
            format!("construction {}, F {f}", construction.name()),
            format!("occupancy factor {o}{ordinary}"),
            format!("exposure factor {}, communication factor {}", building.exposure, building.communication),
            format!("{:.0} gpm before rounding", building.unrounded()?.get()),
        ];
        Ok(Figure { method, found: Ok(needed), assumed })
    }
}

const NO_EXPOSURE: &str = "no exposures";

fn lacking(keys: &[(&'static str, bool)]) -> Vec<&'static str> {
    keys.iter().filter(|(_, given)| !given).map(|(key, _)| *key).collect()
}

impl Figure {
    fn none(method: Method, why: NotWorkedOut) -> Figure {
        Figure { method, found: Err(why), assumed: Vec::new() }
    }
    pub fn flow(&self) -> Option<GallonsPerMinute> {
        self.found.as_ref().ok().map(|needed| needed.flow)
    }
    pub fn supply(&self) -> Option<Gallons> {
        self.found.as_ref().ok().and_then(|needed| needed.supply)
    }
}
