//! Invented names. The roots are made up so that none is a place known to anybody; what follows
//! them ("Lane", "Mill") is plain country vocabulary.

use rand::Rng;
use rand_pcg::Pcg32;
use std::collections::BTreeSet;

const ROOTS: [&str; 30] = [
    "Quell", "Thrav", "Velm", "Yarv", "Zeld", "Ombr", "Ulv", "Vask", "Wrend", "Isk", "Korv", "Ludd", "Mesp",
    "Nurv", "Pelv", "Rusp", "Skarn", "Tolv", "Brask", "Cresk", "Drell", "Erv", "Frask", "Gromm", "Husk",
    "Irv", "Jarv", "Klent", "Onst", "Plav",
];
const ENDINGS: [&str; 12] =
    ["ane", "ock", "ibel", "adine", "ulet", "orrow", "uvia", "atch", "enny", "ombe", "isk", "eru"];
const FEATURES: [&str; 24] = [
    "Quarry",
    "Orchard",
    "Creamery",
    "Windbreak",
    "Limekiln",
    "Hayloft",
    "Fence Row",
    "Gravel Pit",
    "Sawmill",
    "Cold Spring",
    "Stone Boat",
    "Turnip",
    "Rail Fence",
    "Silo",
    "Sugar Bush",
    "Grange",
    "Clover",
    "Poor Farm",
    "Schoolhouse",
    "Sheepwash",
    "Whetstone",
    "Cider Press",
    "Beehive",
    "Two Barns",
];

pub struct Names {
    rng: Pcg32,
    used: BTreeSet<String>,
}

impl Names {
    pub fn new(seed: u64) -> Names {
        Names { rng: Pcg32::new(seed, 0x0a02_bdbf_7bb3_c0a7), used: BTreeSet::new() }
    }

    fn pick<'a>(&mut self, list: &[&'a str]) -> &'a str {
        list[self.rng.next_u32() as usize % list.len()]
    }

    /// A bare invented word, for a village or a stream.
    pub fn word(&mut self) -> String {
        loop {
            let word = format!("{}{}", self.pick(&ROOTS), self.pick(&ENDINGS));
            if self.used.insert(word.clone()) {
                return word;
            }
        }
    }

    /// A road name nobody else in the county has.
    pub fn road(&mut self, kinds: &[&str]) -> String {
        loop {
            let root = match self.rng.next_u32() % 5 {
                0 => self.pick(&FEATURES).to_string(),
                1 => format!("{}{} {}", self.pick(&ROOTS), self.pick(&ENDINGS), self.pick(&FEATURES)),
                _ => format!("{}{}", self.pick(&ROOTS), self.pick(&ENDINGS)),
            };
            let name = format!("{root} {}", self.pick(kinds));
            if self.used.insert(name.clone()) {
                return name;
            }
        }
    }
}
