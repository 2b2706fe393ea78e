//! Months of the year in which a fill site can be used, or is under ice.

use std::fmt;
use std::str::FromStr;

/// Months in which a site can be used, first and last included; `11..=2` runs over the new year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Season {
    first: u8,
    last: u8,
}

const MONTHS: [&str; 12] =
    ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];

impl Season {
    pub const ALL_YEAR: Season = Season { first: 1, last: 12 };
    pub fn contains(self, month: u8) -> bool {
        if self.first <= self.last {
            (self.first..=self.last).contains(&month)
        } else {
            month >= self.first || month <= self.last
        }
    }
    /// Name of a month, 1 to 12.
    pub fn name_of(month: u8) -> &'static str {
        MONTHS[usize::from(month.clamp(1, 12)) - 1]
    }
    pub fn is_all_year(self) -> bool {
        (1..=12).all(|m| self.contains(m))
    }
}

impl fmt::Display for Season {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.is_all_year() {
            return write!(f, "all");
        }
        write!(f, "{}-{}", MONTHS[usize::from(self.first) - 1], MONTHS[usize::from(self.last) - 1])
    }
}

impl FromStr for Season {
    type Err = String;
    fn from_str(text: &str) -> Result<Season, String> {
        let lower = text.trim().to_ascii_lowercase();
        if lower.is_empty() || lower == "all" {
            return Ok(Season::ALL_YEAR);
        }
        let month = |word: &str| MONTHS.iter().position(|m| *m == word.trim()).map(|i| i as u8 + 1);
        lower
            .split_once('-')
            .and_then(|(first, last)| Some(Season { first: month(first)?, last: month(last)? }))
            .ok_or_else(|| format!("\"{text}\" is not a season (\"all\" or two months such as \"apr-nov\")"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_season_may_run_over_the_new_year() {
        let winter: Season = "nov-mar".parse().unwrap();
        assert!(winter.contains(12) && winter.contains(1) && !winter.contains(6));
        let summer: Season = "apr-nov".parse().unwrap();
        assert!(summer.contains(4) && !summer.contains(3));
        assert!("all".parse::<Season>().unwrap().is_all_year());
        assert!("spring".parse::<Season>().is_err());
        assert_eq!(summer.to_string(), "apr-nov");
    }
}
