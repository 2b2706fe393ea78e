//! Coordinates as people type them: decimal degrees, degrees with minutes and seconds, a grid reference
//! (MGRS, in the United States USNG). The grid is by the crate geoconvert.

use crate::place::{NotAPlace, Place};
use geoconvert::Mgrs;

/// How a text was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ReadAs {
    DecimalDegrees,
    DegreesMinutes,
    DegreesMinutesSeconds,
    /// The middle of the grid square named.
    Grid,
}

impl ReadAs {
    pub fn as_str(self) -> &'static str {
        match self {
            ReadAs::DecimalDegrees => "decimal degrees",
            ReadAs::DegreesMinutes => "degrees and minutes",
            ReadAs::DegreesMinutesSeconds => "degrees, minutes and seconds",
            ReadAs::Grid => "grid reference (MGRS, USNG)",
        }
    }
}

/// Longer than any coordinates; what is longer is not looked at.
const LONGEST: usize = 100;
/// Digits of a grid reference: two give a square of 10 km, four of 1 km, too wide for an incident.
const GRID_DIGITS: std::ops::RangeInclusive<usize> = 6..=10;

/// Two decimal numbers are longitude, latitude; with N, S, E and W they may come in either order.
/// The error says in one line what is wrong and what to write.
pub fn read(text: &str) -> Result<(Place, ReadAs), String> {
    let shown: String = text.chars().take(LONGEST).collect();
    let unreadable = || {
        format!(
            "\"{shown}\" cannot be read as coordinates; write LON,LAT in decimal degrees such as \
             -34.0123,31.0456, or 31°02.7'N 34°00.7'W, or a grid reference such as 18TWL 85664 11315"
        )
    };
    if text.len() > LONGEST {
        return Err(unreadable());
    }
    let decimal = match text.split_whitespace().collect::<Vec<_>>()[..] {
        [lon, lat] if !lon.ends_with(',') => format!("{lon},{lat}").parse::<Place>(),
        _ => text.parse::<Place>(),
    };
    match decimal {
        Ok(place) => return Ok((place, ReadAs::DecimalDegrees)),
        Err(NotAPlace::Unreadable(_)) => {}
        Err(e) => return Err(e.to_string()),
    }
    match grid(text) {
        Some(found) => found.map(|place| (place, ReadAs::Grid)),
        None => angles(text).ok_or_else(unreadable)?,
    }
}

/// For arguments of the command line.
pub fn place(text: &str) -> Result<Place, String> {
    read(text).map(|(place, _)| place)
}

/// None where the text does not look like a grid reference: a zone of one or two digits (none at the
/// poles), three letters, digits.
fn grid(text: &str) -> Option<Result<Place, String>> {
    let plain: String = text.chars().filter(|c| !c.is_whitespace()).collect::<String>().to_ascii_uppercase();
    let rest = plain.trim_start_matches(|c: char| c.is_ascii_digit());
    let digits = rest.trim_start_matches(|c: char| c.is_ascii_uppercase());
    let (zone, letters) = (plain.len() - rest.len(), rest.len() - digits.len());
    if zone > 2 || letters != 3 || !digits.chars().all(|c| c.is_ascii_digit()) {
        return None;
    }
    if !GRID_DIGITS.contains(&digits.len()) || digits.len() % 2 != 0 {
        return Some(Err(format!(
            "the grid reference {plain} has {} digits after its letters; give 6, 8 or 10, a square of 100, 10 or 1 m",
            digits.len()
        )));
    }
    let bad = || {
        format!("there is no grid square {plain}; check its zone and its letters, such as 18TWL 85664 11315")
    };
    let found = Mgrs::parse_str(&plain).map_err(|_| bad()).and_then(|square| {
        let middle = square.to_latlon();
        Place::from_lon_lat(middle.longitude(), middle.latitude()).map_err(|_| bad())
    });
    Some(found)
}

/// None where the text is no pair of angles with hemispheres.
fn angles(text: &str) -> Option<Result<(Place, ReadAs), String>> {
    let tokens = tokens(text)?;
    let leads = matches!(tokens.first()?, Token::Hemisphere(_));
    // Each angle is its numbers with the letter before or behind them.
    let mut angles: Vec<(char, Vec<&str>)> = Vec::new();
    let mut numbers: Vec<&str> = Vec::new();
    for token in &tokens {
        match token {
            Token::Number(number) if leads => angles.last_mut()?.1.push(number),
            Token::Number(number) => numbers.push(number),
            Token::Hemisphere(letter) => angles.push((*letter, std::mem::take(&mut numbers))),
        }
    }
    if !numbers.is_empty() {
        return None;
    }
    let [(first, a), (second, b)] = &angles[..] else { return None };
    let is_lat = |letter: &char| matches!(letter, 'N' | 'S');
    if is_lat(first) == is_lat(second) {
        return Some(Err(format!("{first} and {second} are one axis; give one of N, S and one of E, W")));
    }
    let read_as = match a.len().max(b.len()) {
        1 => ReadAs::DecimalDegrees,
        2 => ReadAs::DegreesMinutes,
        3 => ReadAs::DegreesMinutesSeconds,
        _ => return None,
    };
    let found = degrees(*first, a).and_then(|a| Ok((a, degrees(*second, b)?))).and_then(|(a, b)| {
        let (lon, lat) = if is_lat(first) { (b, a) } else { (a, b) };
        // The letters say which is which, so nothing looks swapped.
        let outside = |_| NotAPlace::OutOfRange { lon, lat }.to_string();
        let place = Place::from_lon_lat(lon, lat).map_err(outside)?;
        Ok((place, read_as))
    });
    Some(found)
}

enum Token {
    Number(String),
    Hemisphere(char),
}

/// Numbers and hemispheres; the marks between them carry nothing that their order does not. None where there
/// is anything else.
fn tokens(text: &str) -> Option<Vec<Token>> {
    let mut tokens: Vec<Token> = Vec::new();
    let mut number = String::new();
    let flush = |number: &mut String, tokens: &mut Vec<Token>| {
        if !number.is_empty() {
            tokens.push(Token::Number(std::mem::take(number)));
        }
    };
    for c in text.chars() {
        match c.to_ascii_uppercase() {
            '0'..='9' | '.' => number.push(c),
            '-' | '+' if number.is_empty() => number.push(c),
            letter @ ('N' | 'S' | 'E' | 'W') => {
                flush(&mut number, &mut tokens);
                tokens.push(Token::Hemisphere(letter));
            }
            ' ' | '\t' | ',' | ';' | ':' | '°' | 'º' | '\'' | '′' | '’' | '"' | '″' | '”' => {
                flush(&mut number, &mut tokens);
            }
            _ => return None,
        }
    }
    flush(&mut number, &mut tokens);
    Some(tokens)
}

fn degrees(hemisphere: char, numbers: &[&str]) -> Result<f64, String> {
    let mut sum = 0.0;
    for (i, (text, unit)) in numbers.iter().zip(["degrees", "minutes", "seconds"]).enumerate() {
        let value: f64 = text.parse().map_err(|_| format!("\"{text}\" is no number of {unit}"))?;
        if text.starts_with(['-', '+']) {
            return Err(format!("{text} has a sign and {hemisphere} too; leave the sign out"));
        }
        if i > 0 && value >= 60.0 {
            return Err(format!("{text} {unit} are too many; give less than 60"));
        }
        if i + 1 < numbers.len() && value.fract() != 0.0 {
            return Err(format!(
                "{text} {unit} have decimals and something after them; give decimals to the last"
            ));
        }
        sum += value / 60f64.powi(i as i32);
    }
    if numbers.is_empty() {
        return Err(format!("{hemisphere} has no number"));
    }
    Ok(if matches!(hemisphere, 'S' | 'W') { -sum } else { sum })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_way_of_writing_is_the_same_place() {
        // 54°09'54" = 54 + 9/60 + 54/3600 = 54.165; 4°28'48" = 4 + 28/60 + 48/3600 = 4.48.
        let all = [
            ("-4.48,54.165", ReadAs::DecimalDegrees),
            ("-4.48 54.165", ReadAs::DecimalDegrees),
            ("54.165N 4.48W", ReadAs::DecimalDegrees),
            ("W4.48, N54.165", ReadAs::DecimalDegrees),
            ("54°09.9'N 4°28.8'W", ReadAs::DegreesMinutes),
            ("n 54 09.9 w 4 28.8", ReadAs::DegreesMinutes),
            ("54° 09′ 54″ N, 4° 28′ 48″ W", ReadAs::DegreesMinutesSeconds),
            ("4:28:48W 54:09:54N", ReadAs::DegreesMinutesSeconds),
        ];
        let place = Place::from_lon_lat(-4.48, 54.165).unwrap();
        for (text, read_as) in all {
            let (found, how) = read(text).unwrap_or_else(|e| panic!("{text}: {e}"));
            assert!(found.distance(place).0 < 0.05, "{text}: {found}");
            assert_eq!(how, read_as, "{text}");
        }
    }

    /// The White House by the example of the USNG standard's own text is not at hand; this one is the example of
    /// geoconvert's and of GeographicLib's documentation: 40.748333, -73.985278 is in 18TWL8566411315.
    #[test]
    fn a_grid_reference() {
        let place = Place::from_lon_lat(-73.985278, 40.748333).unwrap();
        for (text, metres) in [("18TWL8566411315", 1.0), ("18T WL 8566 1131", 10.0), ("18twl856113", 100.0)] {
            let (found, how) = read(text).unwrap();
            assert_eq!(how, ReadAs::Grid);
            // In the square, or within the width of it.
            assert!(found.distance(place).0 < metres, "{text}: {found}");
        }
    }

    #[test]
    fn what_cannot_be_read_is_told_in_one_line() {
        let all = [
            ("", "cannot be read"),
            ("the old mill", "cannot be read"),
            ("54°61'N 4°28'W", "less than 60"),
            ("54°09.5'30\"N 4°W", "decimals"),
            ("-54N 4W", "sign"),
            ("54N 55S", "one axis"),
            ("N E", "cannot be read"),
            ("54.165,-104.48", "swapped"),
            ("18TWL85", "6, 8 or 10"),
            ("18TWL8566411", "6, 8 or 10"),
            ("99TWL8566411315", "no grid square"),
            ("18IWL8566411315", "no grid square"),
            ("91N 4W", "outside"),
            ("1..2N 4W", "no number"),
        ];
        for (text, told) in all {
            let error = read(text).unwrap_err();
            assert!(error.contains(told) && !error.contains('\n'), "{text}: {error}");
        }
        assert!(read(&"9".repeat(100_000)).unwrap_err().len() < 400);
    }

    /// Every text of three letters and digits comes back: the library is told nothing it could stumble over.
    #[test]
    fn no_grid_square_panics() {
        let letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ";
        for zone in ["", "0", "1", "31", "32", "60", "61", "99"] {
            for a in letters.chars() {
                for b in letters.chars() {
                    for c in letters.chars().step_by(5) {
                        for digits in ["000000", "9999999999"] {
                            let _ = read(&format!("{zone}{a}{b}{c}{digits}"));
                        }
                    }
                }
            }
        }
    }
}
