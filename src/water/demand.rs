//! How much water a fire needs: given, or by one of four published methods. Every result names
//! its method and what it leaves out.

mod building;
mod written;

use super::{BadInput, Checked, count, not_negative, positive, within};
use crate::units::{CubicFeet, Feet, Gallons, GallonsPerMinute};
pub use building::{Figure, FireBuilding, NotWorkedOut};
use serde::{Deserialize, Serialize};
pub use written::{ConstructionClass, METHODS, NeedBy};

/// Construction class of a building.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Construction {
    /// I, fire resistive.
    I,
    /// II, noncombustible.
    Ii,
    /// III, ordinary (masonry walls).
    Iii,
    /// IV, heavy timber.
    Iv,
    /// V, wood frame.
    V,
}

/// Figures of the methods on which editions or sources differ.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, default)]
pub struct DemandSettings {
    /// Construction classification numbers of classes I to V: I 0.5, II 0.75, V 1.5 (NFPA 1142 as
    /// taught in published fire-inspection training); III 1.0, IV 0.75 (from memory of NFPA 1142).
    pub construction_numbers: [f64; 5],
    /// Greatest construction number of a dwelling; some editions cap it at 1.0 (from memory,
    /// weakly held). No cap by default, which gives the larger supply.
    pub dwelling_cap: Option<f64>,
    pub exposure_rule: ExposureRule,
}

impl Default for DemandSettings {
    fn default() -> Self {
        DemandSettings {
            construction_numbers: [0.5, 0.75, 1.0, 0.75, 1.5],
            dwelling_cap: None,
            exposure_rule: ExposureRule::AddedInFull,
        }
    }
}

impl DemandSettings {
    fn construction_number(&self, class: Construction, dwelling: bool) -> Checked<f64> {
        let [i, ii, iii, iv, v] = self.construction_numbers;
        let number = match class {
            Construction::I => i,
            Construction::Ii => ii,
            Construction::Iii => iii,
            Construction::Iv => iv,
            Construction::V => v,
        };
        let remedy = "give a construction classification number from 0.1 to 5";
        let number = within("construction number", number, 0.1..=5.0, remedy)?;
        match self.dwelling_cap {
            Some(cap) if dwelling => Ok(number.min(within("dwelling cap", cap, 0.1..=5.0, remedy)?)),
            _ => Ok(number),
        }
    }
}

/// How the National Fire Academy formula counts exposures; sources disagree on whether they come
/// before or after the share involved.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ExposureRule {
    /// A quarter of the base (one floor, fully involved) for each, whatever share burns: the
    /// larger flow on one floor, and the default, since an exposure does not shrink with the fire.
    #[default]
    AddedInFull,
    /// A quarter of the base for each, before share and floors multiply the sum.
    ScaledByShare,
}

/// The way a needed flow was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Method {
    Given,
    MinimumSupply,
    Iowa,
    NationalFireAcademy,
    IsoNeededFireFlow,
}

impl Method {
    pub fn name(self) -> &'static str {
        match self {
            Method::Given => "given by the user",
            Method::MinimumSupply => "minimum water supply and delivery rate (NFPA 1142)",
            Method::Iowa => "Iowa rate of flow (Royer and Nelson, Iowa State)",
            Method::NationalFireAcademy => "National Fire Academy quick formula",
            Method::IsoNeededFireFlow => "ISO needed fire flow",
        }
    }
    /// The word for it in a scenario and in an answer.
    pub fn key(self) -> &'static str {
        match self {
            Method::Given => "given",
            Method::MinimumSupply => "nfpa-1142",
            Method::Iowa => "iowa",
            Method::NationalFireAcademy => "nfa",
            Method::IsoNeededFireFlow => "iso",
        }
    }
    /// Where its formula and constants are from.
    pub fn source(self) -> &'static str {
        match self {
            Method::Given => "the user",
            Method::MinimumSupply => {
                "NFPA 1142 as taught in published fire-inspection training; the numbers of classes III and IV and the delivery rates from memory of NFPA 1142"
            }
            Method::Iowa => "Royer and Nelson, Iowa State",
            Method::NationalFireAcademy => "National Fire Academy; sources disagree on how exposures count",
            Method::IsoNeededFireFlow => {
                "USFA coffee-break training FP-2013-43 and -45; occupancy factors, effective area and rounding from memory of ISO's schedule"
            }
        }
    }
    /// What a reader must know before trusting the number.
    pub fn caution(self) -> &'static str {
        match self {
            Method::Given => "Not checked against any method",
            Method::MinimumSupply => {
                "A least supply for a building without sprinklers or hazardous contents; the delivery-rate table is from memory of NFPA 1142"
            }
            Method::Iowa => {
                "Knocks down the fire of the largest single open space; exposures and other rooms are not in it"
            }
            Method::NationalFireAcademy => {
                "A quick figure for an offensive attack; doubtful above half involvement or 1,000 gpm (from memory of its course text)"
            }
            Method::IsoNeededFireFlow => {
                "A rating figure for insurance, not a tactical one; the occupancy factors are from memory of ISO's schedule"
            }
        }
    }
}

/// What a fire needs.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Needed {
    pub flow: GallonsPerMinute,
    /// Total water, where the method gives one.
    pub supply: Option<Gallons>,
    pub method: Method,
    pub caution: &'static str,
}

impl Needed {
    fn of(flow: GallonsPerMinute, supply: Option<Gallons>, method: Method) -> Needed {
        Needed { flow, supply, method, caution: method.caution() }
    }
}

/// How the needed flow is asked for in a scenario.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "method", rename_all = "kebab-case")]
pub enum Demand {
    Given(GivenFlow),
    MinimumSupply(Building),
    Iowa(OpenSpace),
    NationalFireAcademy(FireFloor),
    IsoNeededFireFlow(IsoBuilding),
}

impl Demand {
    /// Errors: unusable numbers, named with their remedy.
    pub fn needed(&self, settings: &DemandSettings) -> Checked<Needed> {
        match self {
            Demand::Given(given) => {
                positive("needed flow (gpm)", given.flow_gpm.get())?;
                Ok(Needed::of(given.flow_gpm, None, Method::Given))
            }
            Demand::MinimumSupply(building) => building.needed(settings),
            Demand::Iowa(space) => space.needed(),
            Demand::NationalFireAcademy(floor) => floor.needed(settings.exposure_rule),
            Demand::IsoNeededFireFlow(building) => building.needed(),
        }
    }
}

/// A flow asked for outright.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct GivenFlow {
    pub flow_gpm: GallonsPerMinute,
}

/// A building for the minimum water supply.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct Building {
    /// [`building_volume`] works it out from the outside measures.
    pub volume_ft3: CubicFeet,
    /// Occupancy hazard classification, 3 severe to 7 light (NFPA 1142).
    pub occupancy_hazard: u8,
    pub construction: Construction,
    #[serde(default)]
    pub exposures: bool,
    #[serde(default)]
    pub dwelling: bool,
}

/// Volume of a building: length × width × (storey heights and half the ridge height above them)
/// (NFPA 1142 as taught in published fire-inspection training).
/// Errors: a negative or unusable measure; no volume.
pub fn building_volume(length: Feet, width: Feet, storeys: Feet, ridge: Feet) -> Checked<CubicFeet> {
    let length = positive("building length (ft)", length.get())?;
    let width = positive("building width (ft)", width.get())?;
    let storeys = positive("height of the storeys (ft)", storeys.get())?;
    let ridge = not_negative("ridge above the storeys (ft)", ridge.get())?;
    positive("building volume (ft³)", length * width * (storeys + ridge / 2.0)).map(CubicFeet)
}

impl Building {
    /// Gallons = volume / occupancy hazard × construction number, × 1.5 with exposures; at least
    /// 2,000, 3,000 with exposures (NFPA 1142 as taught in published fire-inspection training).
    /// Errors: unusable numbers; an occupancy hazard outside 3..=7.
    pub fn minimum_supply(&self, settings: &DemandSettings) -> Checked<Gallons> {
        let volume = positive("building volume (ft³)", self.volume_ft3.get())?;
        let hazard = f64::from(self.occupancy_hazard);
        let hazard = within("occupancy hazard", hazard, 3.0..=7.0, "give 3 (severe) to 7 (light)")?;
        let number = settings.construction_number(self.construction, self.dwelling)?;
        let (factor, least) = if self.exposures { (1.5, 3_000.0) } else { (1.0, 2_000.0) };
        Ok(Gallons((volume / hazard * number * factor).max(least)))
    }

    fn needed(&self, settings: &DemandSettings) -> Checked<Needed> {
        let supply = self.minimum_supply(settings)?;
        Ok(Needed::of(delivery_rate(supply)?, Some(supply), Method::MinimumSupply))
    }
}

/// Rate at which a minimum supply is to be delivered (from memory of NFPA 1142's table): below
/// 2,500 gal 250 gpm, below 10,000 500, below 20,000 750, else 1,000.
/// Errors: a negative or unusable volume.
pub fn delivery_rate(supply: Gallons) -> Checked<GallonsPerMinute> {
    Ok(GallonsPerMinute(match not_negative("minimum supply (gal)", supply.get())? {
        g if g < 2_500.0 => 250.0,
        g if g < 10_000.0 => 500.0,
        g if g < 20_000.0 => 750.0,
        _ => 1_000.0,
    }))
}

/// The largest open space of a building, for the Iowa rate of flow.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct OpenSpace {
    pub length_ft: Feet,
    pub width_ft: Feet,
    pub height_ft: Feet,
}

impl OpenSpace {
    /// gpm = cubic feet / 100 (Royer and Nelson, Iowa State).
    /// Errors: a measure that is not above zero.
    pub fn needed(&self) -> Checked<Needed> {
        let length = positive("length (ft)", self.length_ft.get())?;
        let width = positive("width (ft)", self.width_ft.get())?;
        let height = positive("height (ft)", self.height_ft.get())?;
        let volume = positive("volume (ft³)", length * width * height)?;
        Ok(Needed::of(GallonsPerMinute(volume / 100.0), None, Method::Iowa))
    }
}

fn one_floor() -> u32 {
    1
}

/// A burning floor, for the National Fire Academy quick formula.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct FireFloor {
    pub length_ft: Feet,
    pub width_ft: Feet,
    /// Share of each floor that burns, 0 to 1.
    pub involved: f64,
    /// Floors that burn; one where not given.
    #[serde(default = "one_floor")]
    pub floors: u32,
    /// Exposed buildings or sides.
    #[serde(default)]
    pub exposures: u32,
}

impl FireFloor {
    /// gpm = L·W/3 × share involved × floors, and a quarter of the base L·W/3 per exposure
    /// (National Fire Academy); [`ExposureRule`] says how the exposures count.
    /// Errors: unusable numbers; no share, no floor.
    pub fn needed(&self, rule: ExposureRule) -> Checked<Needed> {
        let length = positive("length (ft)", self.length_ft.get())?;
        let width = positive("width (ft)", self.width_ft.get())?;
        let involved =
            within("share involved", self.involved, 0.01..=1.0, "give the share that burns, 0.01 to 1")?;
        let floors = f64::from(count("burning floors", self.floors, 1)?);
        let exposed = 0.25 * f64::from(count("exposures", self.exposures, 0)?);
        let base = positive("floor area (ft²)", length * width)? / 3.0;
        let flow = match rule {
            ExposureRule::AddedInFull => base * involved * floors + base * exposed,
            ExposureRule::ScaledByShare => (base + base * exposed) * involved * floors,
        };
        Ok(Needed::of(GallonsPerMinute(flow), None, Method::NationalFireAcademy))
    }
}

/// A building for the ISO needed fire flow.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct IsoBuilding {
    pub construction: IsoConstruction,
    /// Effective area in square feet.
    pub area_ft2: f64,
    /// O, 0.75 (light) to 1.25 (rapid burning); 1 where not given (from memory of ISO's schedule).
    #[serde(default = "ordinary_occupancy")]
    pub occupancy: f64,
    /// X, the exposures' addition, 0 to 1.
    #[serde(default)]
    pub exposure: f64,
    /// P, the addition for openings towards neighbours, 0 to 1.
    #[serde(default)]
    pub communication: f64,
}

fn ordinary_occupancy() -> f64 {
    1.0
}

/// Construction of ISO's needed fire flow, with its coefficient F: 1.5, 1.0, 0.8, 0.6.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum IsoConstruction {
    Frame,
    JoistedMasonry,
    /// Noncombustible, with or without masonry walls.
    Noncombustible,
    FireResistive,
}

impl IsoConstruction {
    fn name(self) -> &'static str {
        match self {
            IsoConstruction::Frame => "frame",
            IsoConstruction::JoistedMasonry => "joisted masonry",
            IsoConstruction::Noncombustible => "noncombustible",
            IsoConstruction::FireResistive => "fire resistive",
        }
    }
    fn coefficient(self) -> f64 {
        match self {
            IsoConstruction::Frame => 1.5,
            IsoConstruction::JoistedMasonry => 1.0,
            IsoConstruction::Noncombustible => 0.8,
            IsoConstruction::FireResistive => 0.6,
        }
    }
}

impl IsoBuilding {
    /// 18·F·√area·O·(1 + X + P) in gpm before rounding (USFA coffee-break training FP-2013-43
    /// and -45).
    /// Errors: unusable numbers; factors outside their ranges.
    pub fn unrounded(&self) -> Checked<GallonsPerMinute> {
        let area = positive("effective area (ft²)", self.area_ft2)?;
        let occupancy = within("occupancy factor", self.occupancy, 0.75..=1.25, "give 0.75 to 1.25")?;
        let x = within("exposure factor", self.exposure, 0.0..=1.0, "give 0 to 1")?;
        let p = within("communication factor", self.communication, 0.0..=1.0, "give 0 to 1")?;
        let flow = 18.0 * self.construction.coefficient() * area.sqrt() * occupancy * (1.0 + x + p);
        Ok(GallonsPerMinute(flow))
    }

    /// Rounded to the nearest 250 gpm, above 2,500 to the nearest 500; within 500 to 12,000 (all
    /// from memory of ISO's schedule).
    /// Errors: as [`IsoBuilding::unrounded`].
    pub fn needed(&self) -> Checked<Needed> {
        let raw = self.unrounded()?.get();
        let step = if raw > 2_500.0 { 500.0 } else { 250.0 };
        let flow = ((raw / step).round() * step).clamp(500.0, 12_000.0);
        Ok(Needed::of(GallonsPerMinute(flow), None, Method::IsoNeededFireFlow))
    }
}

#[cfg(test)]
mod tests;
