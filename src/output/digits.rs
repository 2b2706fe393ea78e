//! Numbers as text, the same digits as the standard formatting and several times as fast: a zone is
//! mostly numbers.

use crate::place::Place;
use std::fmt::Write;

/// A number with one decimal, as `{:.1}` has it.
pub fn tenths(text: &mut String, value: f64) {
    let tens = value.abs() * 10.0;
    let down = tens.floor();
    // Where half a tenth is near, the last bit of `value` decides; and there is an end to whole numbers.
    if !tens.is_finite() || tens >= 1e12 || (tens - down - 0.5).abs() < 1e-3 {
        // Writing to a string does not fail.
        let _ = write!(text, "{value:.1}");
        return;
    }
    if value.is_sign_negative() {
        text.push('-');
    }
    let whole = down as u64 + u64::from(tens - down > 0.5);
    digits(text, whole / 10, 1);
    text.push('.');
    digits(text, whole % 10, 1);
}

/// A GeoJSON position, no more decimals than it has.
pub fn position(text: &mut String, place: Place) {
    text.push('[');
    degrees(text, place.lon_e7());
    text.push(',');
    degrees(text, place.lat_e7());
    text.push(']');
}

/// Units of 1e-7 degree as degrees.
fn degrees(text: &mut String, e7: i32) {
    if e7 < 0 {
        text.push('-');
    }
    let all = u64::from(e7.unsigned_abs());
    digits(text, all / 10_000_000, 1);
    let (mut part, mut places) = (all % 10_000_000, 7);
    if part > 0 {
        while part % 10 == 0 {
            (part, places) = (part / 10, places - 1);
        }
        text.push('.');
        digits(text, part, places);
    }
}

/// A whole number of at least so many digits.
pub fn digits(text: &mut String, mut number: u64, least: usize) {
    let mut buffer = [b'0'; 20];
    let mut from = buffer.len();
    while number > 0 || buffer.len() - from < least {
        from -= 1;
        buffer[from] = b'0' + (number % 10) as u8;
        number /= 10;
    }
    buffer[from..].iter().for_each(|digit| text.push(char::from(*digit)));
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    #[test]
    fn the_same_as_the_standard_formatting() {
        let seed = 20_261_125;
        println!("seed {seed}");
        let mut rng = rand_pcg::Pcg64::seed_from_u64(seed);
        let mut values =
            vec![0.0, -0.0, 0.05, 0.15, 0.25, 0.35, 0.95, 1e11, 1e300, -3.25, f64::INFINITY, f64::NAN];
        for _ in 0..200_000 {
            values.push(rng.random_range(-2_000.0..2_000.0));
            // Near a half: the last bits decide.
            values.push(f64::from(rng.random_range(0..40_000)) / 20.0);
            values.push(f64::from(rng.random_range(0..40_000)) * 0.05);
        }
        for value in values {
            let mut text = String::new();
            tenths(&mut text, value);
            assert_eq!(text, format!("{value:.1}"));
        }
        let mut places = vec![Place::from_e7(0, 0), Place::from_e7(-1_800_000_000, 900_000_000)];
        for _ in 0..100_000 {
            let e7 = |rng: &mut rand_pcg::Pcg64, most: i32| rng.random_range(-most..=most);
            places.push(Place::from_e7(e7(&mut rng, 1_800_000_000), e7(&mut rng, 900_000_000)));
            places.push(Place::from_e7(e7(&mut rng, 180) * 10_000_000, e7(&mut rng, 9_000) * 1_000));
        }
        for place in places {
            let mut text = String::new();
            position(&mut text, place);
            assert_eq!(text, format!("[{},{}]", place.lon(), place.lat()));
        }
    }
}
