//! When an entry holds: months of every year, and a first and a last day.

use crate::roads::condition::{Case, Condition, Moment, Truth};

#[derive(Clone, Debug, Default, PartialEq)]
pub struct Validity {
    season: Option<Condition>,
    from: Option<Moment>,
    until: Option<Moment>,
}

const MONTHS: [&str; 12] =
    ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];

impl Validity {
    /// `season` as in lists of fill sites, `all` or `nov-mar`; `from` and `until` are local dates,
    /// with or without a time, both included.
    pub fn read(season: Option<&str>, from: Option<&str>, until: Option<&str>) -> Result<Validity, String> {
        let season = match season {
            None | Some("all") => None,
            Some(text) => Some(months(text).ok_or_else(|| {
                format!("season \"{text}\" is neither \"all\" nor months such as \"nov-mar\"")
            })?),
        };
        let day = |key: &str, text: Option<&str>, time: &str| match text {
            None => Ok(None),
            Some(text) => {
                let whole = if text.len() == 10 { format!("{text}T{time}") } else { text.to_string() };
                let moment = Moment::parse(&whole);
                moment.map(Some).ok_or_else(|| format!("{key} \"{text}\" is no date such as 2026-01-15"))
            }
        };
        let (from, until) = (day("from", from, "00:00")?, day("until", until, "23:59")?);
        if let (Some(from), Some(until)) = (&from, &until)
            && ordered(from) > ordered(until)
        {
            return Err("until lies before from".into());
        }
        Ok(Validity { season, from, until })
    }

    /// Holds whenever it is.
    pub fn is_always(&self) -> bool {
        *self == Validity::default()
    }

    pub fn holds(&self, moment: &Moment) -> Truth {
        let season = self
            .season
            .as_ref()
            .map_or(Truth::Yes, |season| season.holds(&Case { moment, destination: false, size: &|_| 0.0 }));
        let within = match (ordered(moment), &self.from, &self.until) {
            (_, None, None) => Truth::Yes,
            (None, ..) => Truth::Maybe,
            (now, from, until) => {
                let begun = from.as_ref().is_none_or(|from| ordered(from) <= now);
                let ended = until.as_ref().is_some_and(|until| ordered(until) < now);
                Truth::from(begun && !ended)
            }
        };
        season.min(within)
    }
}

/// Year, month, day, minute; in this order a later moment is greater.
fn ordered(moment: &Moment) -> Option<(u16, u8, u8, u16)> {
    let clock = moment.time?;
    Some((clock.year, moment.month?, clock.day, clock.minute))
}

fn months(text: &str) -> Option<Condition> {
    let capital = |month: &str| {
        MONTHS.contains(&month).then(|| format!("{}{}", month[..1].to_ascii_uppercase(), &month[1..]))
    };
    let months: Option<Vec<String>> = text.split('-').map(capital).collect();
    let months = months.filter(|months| months.len() <= 2)?;
    Some(Condition::parse(&months.join("-")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn seasons_and_days() {
        let winter = Validity::read(Some("nov-mar"), None, None).unwrap();
        let on = |v: &Validity, text: &str| v.holds(&Moment::parse(text).unwrap());
        assert_eq!(on(&winter, "2026-01-15T14:00"), Truth::Yes);
        assert_eq!(on(&winter, "2026-04-01T00:00"), Truth::No);
        assert_eq!(winter.holds(&Moment::of_month(Some(11))), Truth::Yes);
        assert_eq!(winter.holds(&Moment::default()), Truth::Maybe);
        let works = Validity::read(None, Some("2026-01-05"), Some("2026-01-15T12:00")).unwrap();
        assert_eq!(on(&works, "2026-01-05T00:00"), Truth::Yes);
        assert_eq!(on(&works, "2026-01-15T12:00"), Truth::Yes);
        assert_eq!(on(&works, "2026-01-15T12:01"), Truth::No);
        assert_eq!(on(&works, "2025-01-10T12:00"), Truth::No);
        // A month says no year.
        assert_eq!(works.holds(&Moment::of_month(Some(1))), Truth::Maybe);
        let both = Validity::read(Some("nov-mar"), Some("2026-01-05"), None).unwrap();
        assert_eq!(both.holds(&Moment::of_month(Some(7))), Truth::No);
        assert!(Validity::read(Some("all"), None, None).unwrap().is_always());
        for (season, from, until) in [
            (Some("winter"), None, None),
            (Some("nov-mar-apr"), None, None),
            (None, Some("15.01.2026"), None),
            (None, None, Some("2026-02-30")),
            (None, Some("2026-02-01"), Some("2026-01-01")),
        ] {
            assert!(Validity::read(season, from, until).is_err(), "{season:?} {from:?} {until:?}");
        }
    }
}
