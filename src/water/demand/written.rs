//! Construction classes and methods as people write them.

use super::{Construction, Method};
use serde::Deserialize;
use std::str::FromStr;

/// A construction class as written: I to V, or 1 to 5.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(try_from = "ClassAsWritten")]
pub struct ConstructionClass(pub Construction);

#[derive(Deserialize)]
#[serde(untagged, expecting = "a construction class is \"I\", \"II\", \"III\", \"IV\" or \"V\", or 1 to 5")]
enum ClassAsWritten {
    Text(String),
    Number(i64),
}

impl TryFrom<ClassAsWritten> for ConstructionClass {
    type Error = String;
    fn try_from(written: ClassAsWritten) -> Result<Self, String> {
        match written {
            ClassAsWritten::Text(text) => text.parse(),
            ClassAsWritten::Number(number) => number.to_string().parse(),
        }
    }
}

impl FromStr for ConstructionClass {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let class = match text.trim().to_uppercase().as_str() {
            "I" | "1" => Construction::I,
            "II" | "2" => Construction::Ii,
            "III" | "3" => Construction::Iii,
            "IV" | "4" => Construction::Iv,
            "V" | "5" => Construction::V,
            _ => {
                return Err(format!(
                    "{text:?} is no construction class; give I (fire resistive), II (noncombustible), III \
                     (masonry walls), IV (heavy timber) or V (wood frame), or 1 to 5"
                ));
            }
        };
        Ok(ConstructionClass(class))
    }
}

/// The methods that work from a building.
pub const METHODS: [Method; 4] =
    [Method::MinimumSupply, Method::Iowa, Method::NationalFireAcademy, Method::IsoNeededFireFlow];

/// The method whose figure is taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub enum NeedBy {
    #[serde(rename = "nfpa-1142")]
    Nfpa1142,
    #[serde(rename = "iowa")]
    Iowa,
    #[serde(rename = "nfa")]
    Nfa,
    #[serde(rename = "iso")]
    Iso,
}

impl NeedBy {
    pub fn method(self) -> Method {
        match self {
            NeedBy::Nfpa1142 => Method::MinimumSupply,
            NeedBy::Iowa => Method::Iowa,
            NeedBy::Nfa => Method::NationalFireAcademy,
            NeedBy::Iso => Method::IsoNeededFireFlow,
        }
    }
}
