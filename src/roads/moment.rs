//! The date and time of an incident, as far as they are known.

/// Local date and time asked for, as far as known.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Moment {
    /// 1 to 12.
    pub month: Option<u8>,
    pub time: Option<Clock>,
    /// South of the equator: seasons named by words are half a year off.
    pub south: bool,
}

/// A day and a time of day; the month stands in `Moment`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Clock {
    pub year: u16,
    pub day: u8,
    /// 0 is Monday.
    pub weekday: u8,
    /// Minutes since midnight.
    pub minute: u16,
}

impl Moment {
    pub fn of_month(month: Option<u8>) -> Moment {
        Moment { month, ..Moment::default() }
    }

    /// Reads local time without a zone, "2026-01-15T14:00".
    pub fn parse(text: &str) -> Option<Moment> {
        let (date, time) = text.trim().split_once(['T', ' '])?;
        let mut parts = date.split('-');
        let mut next = |digits: usize| -> Option<u16> {
            let part = parts.next().filter(|p| p.len() == digits && p.bytes().all(|b| b.is_ascii_digit()))?;
            part.parse().ok()
        };
        let (year, month, day) = (next(4)?, next(2)? as u8, next(2)? as u8);
        if parts.next().is_some() || !(1..=12).contains(&month) || year < 1900 {
            return None;
        }
        let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
        let days = match month {
            2 if leap => 29,
            2 => 28,
            4 | 6 | 9 | 11 => 30,
            _ => 31,
        };
        let minute = minutes(time.strip_suffix(":00").filter(|t| t.contains(':')).unwrap_or(time))?;
        if !(1..=days).contains(&day) || minute >= 24 * 60 {
            return None;
        }
        let weekday = weekday(year, month, day);
        Some(Moment { month: Some(month), time: Some(Clock { year, day, weekday, minute }), south: false })
    }
}

/// Sakamoto's congruence for the Gregorian calendar; 0 is Monday.
fn weekday(year: u16, month: u8, day: u8) -> u8 {
    const SHIFT: [u32; 12] = [0, 3, 2, 5, 0, 3, 5, 1, 4, 6, 2, 4];
    let y = u32::from(year) - u32::from(month < 3);
    let sunday_first = y + y / 4 - y / 100 + y / 400 + SHIFT[usize::from(month) - 1] + u32::from(day);
    ((sunday_first + 6) % 7) as u8
}

/// "07:30" as minutes since midnight; 24:00 and beyond up to 48:00 as opening hours have it.
pub(super) fn minutes(text: &str) -> Option<u16> {
    let (hours, minutes) = text.split_once(':')?;
    let number = |t: &str| t.bytes().all(|b| b.is_ascii_digit()).then(|| t.parse::<u16>().ok()).flatten();
    let (hours, minutes) = (number(hours)?, number(minutes).filter(|_| minutes.len() == 2)?);
    (hours <= 48 && minutes < 60).then_some(hours * 60 + minutes)
}
