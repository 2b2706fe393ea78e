//! Conditions on signs, `value @ (condition)`: OSM wiki, "Conditional restrictions".
//!
//! What is read, joined by `AND`, several values separated by `;` of which the last that holds counts:
//!
//! * purpose: `destination`, `delivery`, `customers`; and `emergency`, which a fire truck always is;
//! * size: `weight`, `weightrating`, `axleload`, `bogieweight`, `height`, `width`, `length` with
//!   `<`, `<=`, `>`, `>=`, `=` and a quantity (`weight>7.5`);
//! * time, a part of the opening hours syntax: `24/7`, months and days of months with or without a
//!   year (`Nov-Mar`, `Nov 15-Apr 15`, `2026 Jan 5-2026 Feb 20`), weekdays (`Mo-Fr,Su`), hours
//!   (`07:00-09:00,22:00-05:00`), in this order, several rules separated by `;`.
//!
//! All else (holidays, `sunset`, `wet`, `off`) cannot be decided, and that is a finding. The crate
//! for the whole syntax brings some thirty others and an assembler; few signs need more than this.

use super::moment::minutes;
pub use super::moment::{Clock, Moment};
use crate::roads::limits::Kind;
use crate::units::{Kilograms, Metres};
use serde::{Deserialize, Serialize};

/// Whether something holds; in this order "and" is the least and "or" the greatest.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Truth {
    No,
    Maybe,
    Yes,
}

impl From<bool> for Truth {
    fn from(holds: bool) -> Truth {
        if holds { Truth::Yes } else { Truth::No }
    }
}

/// What a condition is judged by.
pub struct Case<'a> {
    pub moment: &'a Moment,
    /// The drive counts as destination traffic.
    pub destination: bool,
    /// The vehicle's size of a kind, in kilograms or metres.
    pub size: &'a dyn Fn(Kind) -> f64,
}

/// All parts must hold.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Condition(Vec<Part>);

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
enum Part {
    Destination,
    Emergency,
    Size {
        kind: Kind,
        compare: Compare,
        amount: f64,
    },
    /// Any rule must hold.
    Times(Vec<Rule>),
    NotRead,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
enum Compare {
    Less,
    LessOrEqual,
    More,
    MoreOrEqual,
    Equal,
}

/// One rule of opening hours; an empty part does not narrow.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
struct Rule {
    dates: Vec<(Day, Day)>,
    /// Bit 0 is Monday; 0 is every day.
    weekdays: u8,
    times: Vec<(u16, u16)>,
}

/// Year (0: every year), month, day.
type Day = (u16, u8, u8);

impl Condition {
    pub fn was_read(&self) -> bool {
        !self.0.contains(&Part::NotRead)
    }

    pub fn is_for_destination(&self) -> bool {
        self.0.contains(&Part::Destination)
    }

    pub fn holds(&self, case: &Case) -> Truth {
        self.0.iter().map(|part| part.holds(case)).min().unwrap_or(Truth::Maybe)
    }

    /// Whether it holds for whatever vehicle and drive there may be: size and purpose are open.
    pub fn holds_for_all(&self, moment: &Moment) -> Truth {
        let case = Case { moment, destination: false, size: &|_| 0.0 };
        let holds = |part: &Part| match part {
            Part::Size { .. } | Part::Destination => Truth::Maybe,
            part => part.holds(&case),
        };
        self.0.iter().map(holds).min().unwrap_or(Truth::Maybe)
    }

    pub fn parse(text: &str) -> Condition {
        let text = text.trim();
        let inner = text.strip_prefix('(').and_then(|t| t.strip_suffix(')')).unwrap_or(text);
        Condition(inner.split(" AND ").flat_map(|t| t.split(" and ")).map(Part::parse).collect())
    }
}

/// Splits `a @ (x; y); b @ z` into values with their conditions.
pub fn clauses(text: &str) -> Vec<(&str, Condition)> {
    let (mut depth, mut start, mut found) = (0, 0, Vec::new());
    for (i, c) in text.char_indices().chain([(text.len(), ';')]) {
        match c {
            '(' => depth += 1,
            ')' => depth -= 1,
            ';' if depth <= 0 || i == text.len() => {
                let clause = text[start..i].trim();
                start = (i + 1).min(text.len());
                if clause.is_empty() {
                    continue;
                }
                found.push(match clause.split_once('@') {
                    Some((value, condition)) => (value.trim(), Condition::parse(condition)),
                    None => (clause, Condition(vec![Part::NotRead])),
                });
            }
            _ => {}
        }
    }
    found
}

impl Part {
    fn parse(text: &str) -> Part {
        let text = text.trim();
        match text {
            "destination" | "delivery" | "customers" => return Part::Destination,
            "emergency" => return Part::Emergency,
            _ => {}
        }
        if text.contains(['<', '>', '=']) {
            return size(text).unwrap_or(Part::NotRead);
        }
        let rules: Option<Vec<Rule>> = text.split(';').map(rule).collect();
        rules.map_or(Part::NotRead, Part::Times)
    }

    fn holds(&self, case: &Case) -> Truth {
        match self {
            Part::Destination => case.destination.into(),
            Part::Emergency => Truth::Yes,
            Part::NotRead => Truth::Maybe,
            Part::Times(rules) => {
                rules.iter().map(|rule| rule.holds(case.moment)).max().unwrap_or(Truth::Maybe)
            }
            Part::Size { kind, compare, amount } => {
                let size = (case.size)(*kind);
                Truth::from(match compare {
                    Compare::Less => size < *amount,
                    Compare::LessOrEqual => size <= *amount,
                    Compare::More => size > *amount,
                    Compare::MoreOrEqual => size >= *amount,
                    Compare::Equal => size == *amount,
                })
            }
        }
    }
}

fn size(text: &str) -> Option<Part> {
    let at = text.find(['<', '>', '='])?;
    let kind = match text[..at].trim() {
        "weight" => Kind::Weight,
        "weightrating" | "gvw" | "gross_weight" => Kind::Rating,
        "axleload" => Kind::Axle,
        "bogieweight" => Kind::Bogie,
        "height" => Kind::Height,
        "width" => Kind::Width,
        "length" => Kind::Length,
        _ => return None,
    };
    let rest = &text[at..];
    let (compare, amount) = [
        ("<=", Compare::LessOrEqual),
        (">=", Compare::MoreOrEqual),
        ("<", Compare::Less),
        (">", Compare::More),
        ("=", Compare::Equal),
    ]
    .iter()
    .find_map(|(sign, compare)| rest.strip_prefix(sign).map(|amount| (*compare, amount.trim())))?;
    let amount =
        if kind.is_mass() { amount.parse::<Kilograms>().ok()?.0 } else { amount.parse::<Metres>().ok()?.0 };
    Some(Part::Size { kind, compare, amount })
}

const MONTHS: [&str; 12] =
    ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
const WEEKDAYS: [&str; 7] = ["Mo", "Tu", "We", "Th", "Fr", "Sa", "Su"];

/// One rule: dates, then weekdays, then times, each left out or once.
fn rule(text: &str) -> Option<Rule> {
    let text = text.trim();
    if text == "24/7" {
        return Some(Rule::default());
    }
    // Commas are followed by a space as often as not.
    let text = text.replace(", ", ",").replace(" - ", "-");
    let words: Vec<&str> = text.split_whitespace().collect();
    let is_time =
        |w: &&str| w.starts_with(|c: char| c.is_ascii_digit()) && w.contains(':') && w.contains('-');
    let is_weekdays = |w: &&str| WEEKDAYS.iter().any(|d| w.starts_with(d)) && !w.starts_with("Sun");
    let mut rule = Rule::default();
    let mut end = words.len();
    if let Some(times) = words[..end].last().filter(|w| is_time(w)) {
        for range in times.split(',') {
            let (from, to) = range.split_once('-')?;
            rule.times.push((minutes(from)?, minutes(to)?));
        }
        end -= 1;
    }
    if let Some(days) = words[..end].last().filter(|w| is_weekdays(w)) {
        rule.weekdays = weekdays(days)?;
        end -= 1;
    }
    let dates = words[..end].join(" ");
    let dates = dates.trim_end_matches(':');
    if !dates.is_empty() {
        for range in dates.split(',') {
            rule.dates.push(date_range(range)?);
        }
    }
    (!words.is_empty()).then_some(rule)
}

fn weekdays(text: &str) -> Option<u8> {
    let day = |name: &str| WEEKDAYS.iter().position(|d| *d == name);
    let mut bits = 0;
    for range in text.split(',') {
        let (from, to) = range.split_once('-').unwrap_or((range, range));
        let (from, to) = (day(from)?, day(to)?);
        let mut at = from;
        loop {
            bits |= 1 << at;
            if at == to {
                break;
            }
            at = (at + 1) % 7;
        }
    }
    Some(bits)
}

/// `Nov-Mar`, `Nov 15-Apr 15`, `Nov 15-30`, `2026 Jan 5-2026 Feb 20`, `Dec`.
fn date_range(text: &str) -> Option<(Day, Day)> {
    let (from, to) = text.split_once('-').map_or((text, None), |(a, b)| (a, Some(b)));
    let first = date(from)?;
    let from = (first.0.unwrap_or(0), first.1, first.2.unwrap_or(1));
    let Some(to) = to.map(str::trim) else {
        return Some((from, (from.0, first.1, first.2.unwrap_or(31))));
    };
    if first.2.is_some()
        && let Ok(day) = to.parse::<u8>()
    {
        return (1..=31).contains(&day).then_some((from, (from.0, first.1, day)));
    }
    let last = date(to)?;
    Some((from, (last.0.unwrap_or(from.0), last.1, last.2.unwrap_or(31))))
}

fn date(text: &str) -> Option<(Option<u16>, u8, Option<u8>)> {
    let mut words = text.split_whitespace().peekable();
    let year = words.peek().and_then(|w| w.parse::<u16>().ok()).filter(|y| (1900..=2999).contains(y));
    if year.is_some() {
        words.next();
    }
    let month = words.next()?;
    let month = MONTHS.iter().position(|m| *m == month)? as u8 + 1;
    let day = match words.next() {
        None => None,
        Some(day) => Some(day.parse::<u8>().ok().filter(|d| (1..=31).contains(d))?),
    };
    words.next().is_none().then_some((year, month, day))
}

impl Rule {
    fn holds(&self, moment: &Moment) -> Truth {
        let dates = self.on_date(moment);
        if self.weekdays == 0 && self.times.is_empty() {
            return dates;
        }
        let Some(clock) = moment.time else { return dates.min(Truth::Maybe) };
        let on = |weekday: u8| self.weekdays == 0 || self.weekdays & (1 << weekday) != 0;
        let (today, yesterday) = (on(clock.weekday), on((clock.weekday + 6) % 7));
        // Hours that run past midnight belong to the day on which they begin.
        let now = |&(from, to): &(u16, u16)| {
            let to = if to <= from { to + 24 * 60 } else { to };
            today && (from..to).contains(&clock.minute)
                || yesterday && (from..to).contains(&(clock.minute + 24 * 60))
        };
        let in_time = if self.times.is_empty() { today } else { self.times.iter().any(now) };
        dates.min(in_time.into())
    }

    fn on_date(&self, moment: &Moment) -> Truth {
        if self.dates.is_empty() {
            return Truth::Yes;
        }
        let Some(month) = moment.month else { return Truth::Maybe };
        let within = |&(from, to): &(Day, Day), at: Day| {
            if from.0 != 0 || to.0 != 0 {
                (from..=to).contains(&at)
            } else {
                let (from, to, at) = ((from.1, from.2), (to.1, to.2), (at.1, at.2));
                if from <= to { from <= at && at <= to } else { at >= from || at <= to }
            }
        };
        match moment.time {
            Some(clock) => self.dates.iter().any(|r| within(r, (clock.year, month, clock.day))).into(),
            None if self.dates.iter().any(|(from, to)| from.0 != 0 || to.0 != 0) => Truth::Maybe,
            None => {
                let days = (1..=31).map(|day| self.dates.iter().any(|r| within(r, (0, month, day))));
                let (mut all, mut any) = (true, false);
                for held in days {
                    all &= held;
                    any |= held;
                }
                if all {
                    Truth::Yes
                } else if any {
                    Truth::Maybe
                } else {
                    Truth::No
                }
            }
        }
    }
}
