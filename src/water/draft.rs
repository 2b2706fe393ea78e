//! Drafting: how high a pump can lift, what it delivers at that lift and pressure, and the
//! suction hose it needs.

use super::{Checked, count, not_negative, positive, within};
use crate::units::{Feet, GallonsPerMinute, Inches, Psi};
use serde::{Deserialize, Serialize};

/// Lift a sound pump attains at sea level: two thirds of the 33.9 ft that 14.7 psi of air
/// carries, as printed in the NWCG drafting guidelines and by IFSTA.
pub const ATTAINABLE_LIFT: Feet = Feet(22.5);
/// Lift at which pumps are rated, with 20 ft of suction hose (NWCG; from memory of NFPA 1901).
pub const RATED_LIFT: Feet = Feet(10.0);
/// Suction hose that a pump carries to make its rating: 20 ft, two lengths of 10 (NWCG; from memory of NFPA 1901).
pub const SUCTION_HOSE: Feet = Feet(20.0);
/// Altitude up to which a pump must make its rating (from memory of NFPA 1901).
pub const RATED_ALTITUDE: Feet = Feet(2_000.0);
/// Feet of lift lost per foot of altitude: one per thousand (NWCG drafting guidelines).
const LIFT_LOST_PER_FOOT_OF_ALTITUDE: f64 = 1.0 / 1_000.0;

/// Which published capacity against lift to believe. The sources disagree: 70 % against 82 % of
/// the rating at 15 ft.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CapacityCurve {
    /// The lower of the two others at every lift.
    #[default]
    Lower,
    /// IFSTA's figures, 100 % at 10 ft, 70 % at 15 ft, 60 % at 20 ft, joined by straight lines.
    Ifsta,
    /// √((25.3 − lift)/15.3), fitted to a trade-press table for 5-in suction that gives 590 gpm
    /// at 20 ft for a 1,000 gpm pump.
    SquareRoot,
}

fn altitude_ft(altitude: Feet) -> Checked<f64> {
    within("altitude (ft)", altitude.get(), -2_000.0..=30_000.0, "give the altitude in feet above sea level")
}

/// Greatest lift at an altitude: 22.5 ft less 1 ft per 1,000 ft (NWCG drafting guidelines; IFSTA).
/// Below sea level the sea-level figure stands. Never below zero.
/// Errors: an altitude outside −2,000..=30,000 ft.
pub fn attainable_lift(altitude: Feet) -> Checked<Feet> {
    let lost = altitude_ft(altitude)?.max(0.0) * LIFT_LOST_PER_FOOT_OF_ALTITUDE;
    Ok((ATTAINABLE_LIFT - Feet(lost)).max(Feet::ZERO))
}

/// Lift that a vacuum gauge shows: 1.13 ft per inch of mercury (NWCG drafting guidelines,
/// table 31). Friction in the suction is part of what the gauge shows.
/// Errors: outside 0..=29.92 inHg, where the gauge cannot be right.
pub fn lift_from_vacuum(inches_of_mercury: f64) -> Checked<Feet> {
    let remedy = "give the gauge reading, 0 to 29.92 inHg";
    Ok(Feet(1.13 * within("vacuum (inHg)", inches_of_mercury, 0.0..=29.92, remedy)?))
}

/// Share of its rating a pump gives at a lift, 0..=1; no more than the rating below 10 ft of lift.
/// Says nothing of whether the lift can be attained: see [`capacity_at_draft`].
/// Errors: a negative or unusable lift (water above the intake is lift 0).
pub fn capacity_share(lift: Feet, curve: CapacityCurve) -> Checked<f64> {
    let remedy = "give the height of the pump intake above the water; 0 where the water stands higher";
    let lift = within("lift (ft)", lift.get(), 0.0..=1e9, remedy)?;
    let ifsta = if lift <= 15.0 { 1.0 - 0.06 * (lift - 10.0) } else { 0.70 - 0.02 * (lift - 15.0) };
    let root = ((25.3 - lift) / 15.3).max(0.0).sqrt();
    let share = match curve {
        CapacityCurve::Lower => ifsta.min(root),
        CapacityCurve::Ifsta => ifsta,
        CapacityCurve::SquareRoot => root,
    };
    Ok(share.clamp(0.0, 1.0))
}

/// Flow of a pump of the given rating at a lift and altitude: never above the rating, zero above
/// the attainable lift. Altitude beyond the 2,000 ft of the rating test counts as lift, one foot
/// per thousand, because it takes the same air pressure from the suction (computed, no source).
/// Errors: any unusable number.
pub fn capacity_at_draft(
    rated: GallonsPerMinute,
    lift: Feet,
    altitude: Feet,
    curve: CapacityCurve,
) -> Checked<GallonsPerMinute> {
    positive("pump rating (gpm)", rated.get())?;
    let thin_air = (altitude_ft(altitude)? - RATED_ALTITUDE.get()).max(0.0) * LIFT_LOST_PER_FOOT_OF_ALTITUDE;
    let share = capacity_share(lift, curve)?.min(capacity_share(lift + Feet(thin_air), curve)?);
    if lift > attainable_lift(altitude)? { Ok(GallonsPerMinute::ZERO) } else { Ok(rated * share) }
}

/// Flow a rated pump gives at a net pump pressure: 100 % to 150 psi, 70 % at 200, 50 % at 250
/// (NWCG; from memory of NFPA 1911), straight lines between, which lie below a real pump's curve.
/// Zero above 250 psi, where no rating promises anything.
/// Errors: any unusable number.
pub fn capacity_at_pressure(rated: GallonsPerMinute, net_pressure: Psi) -> Checked<GallonsPerMinute> {
    positive("pump rating (gpm)", rated.get())?;
    let psi = not_negative("net pump pressure (psi)", net_pressure.get())?;
    let share = match psi {
        p if p <= 150.0 => 1.0,
        p if p <= 200.0 => 1.0 - 0.30 * (p - 150.0) / 50.0,
        p if p <= 250.0 => 0.70 - 0.20 * (p - 200.0) / 50.0,
        _ => 0.0,
    };
    Ok(rated * share)
}

/// Suction hose to draw a pump's full rating.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Suction {
    pub lines: u32,
    pub diameter: Inches,
    /// Another way that serves: the 5-in line of older standards, or one 8-in line for two of 6.
    pub or_else: Option<(u32, Inches)>,
}

/// Suction hose for a rating: 500 gpm 4 in; 750 4½; 1,000 to 1,250 6 (older 5); 1,500 two 6;
/// 2,000 two 6 or one 8 (from memory of NFPA 1901). A rating between two rows takes the larger.
/// Above 2,000 gpm one 6-in line per 1,000 gpm or part of it (extrapolated, no source).
/// Errors: an unusable rating.
pub fn suction_for(rated: GallonsPerMinute) -> Checked<Suction> {
    let gpm =
        within("pump rating (gpm)", rated.get(), 1e-6..=100_000.0, "give the rating on the pump's plate")?;
    let suction = |lines, inches, or_else| Suction { lines, diameter: Inches(inches), or_else };
    Ok(match gpm {
        q if q <= 500.0 => suction(1, 4.0, None),
        q if q <= 750.0 => suction(1, 4.5, None),
        q if q <= 1_250.0 => suction(1, 6.0, Some((1, Inches(5.0)))),
        q if q <= 1_500.0 => suction(2, 6.0, None),
        q if q <= 2_000.0 => suction(2, 6.0, Some((1, Inches(8.0)))),
        q => suction((q / 1_000.0).ceil() as u32, 6.0, None),
    })
}

/// Flow that suction lines carry at 10 ft of lift: the table of [`suction_for`] read the other
/// way, the lower where it leaves room: 4 in 500 gpm, 4½ 750, 5 1,000, 6 1,250 alone and 1,000
/// each in a group, 8 2,000. A size between takes the narrower row; below 4 in it is in
/// proportion to the bore's area (computed, no source).
/// Errors: no line, or an unusable diameter.
pub fn suction_capacity(diameter: Inches, lines: u32) -> Checked<GallonsPerMinute> {
    let inches = within("suction diameter (in)", diameter.get(), 1.0..=24.0, "give the diameter in inches")?;
    let lines = count("suction lines", lines, 1)?;
    let each = match inches {
        d if d < 4.0 => 500.0 * (d / 4.0).powi(2),
        d if d < 4.5 => 500.0,
        d if d < 5.0 => 750.0,
        d if d < 6.0 => 1_000.0,
        d if d < 8.0 && lines == 1 => 1_250.0,
        d if d < 8.0 => 1_000.0,
        _ => 2_000.0,
    };
    Ok(GallonsPerMinute(each * f64::from(lines)))
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATED: GallonsPerMinute = GallonsPerMinute(1_000.0);

    #[test]
    fn the_lower_curve_is_lower_everywhere() {
        for tenth in 0..260 {
            let lift = Feet(f64::from(tenth) / 10.0);
            let [lower, ifsta, root] =
                [CapacityCurve::Lower, CapacityCurve::Ifsta, CapacityCurve::SquareRoot]
                    .map(|curve| capacity_share(lift, curve).unwrap());
            assert_eq!(lower, ifsta.min(root), "{lift}");
        }
    }

    #[test]
    fn nothing_is_lifted_beyond_the_air() {
        let at = |lift, altitude| {
            capacity_at_draft(RATED, Feet(lift), Feet(altitude), CapacityCurve::Lower).unwrap()
        };
        assert_eq!(at(5.0, 0.0), RATED);
        assert!(at(22.5, 0.0).get() > 0.0);
        assert_eq!(at(22.6, 0.0), GallonsPerMinute::ZERO);
        assert!(at(17.5, 5_000.0).get() > 0.0);
        assert_eq!(at(17.6, 5_000.0), GallonsPerMinute::ZERO);
        assert_eq!(at(1.0, 25_000.0), GallonsPerMinute::ZERO);
        // 12 ft at 5,000 ft counts as 15 ft: 70 %.
        assert!((at(12.0, 5_000.0).get() - 700.0).abs() < 1e-9);
        assert_eq!(at(10.0, 2_000.0), RATED);
    }

    #[test]
    fn pressure_takes_flow() {
        for (psi, share) in
            [(0.0, 1.0), (150.0, 1.0), (175.0, 0.85), (200.0, 0.7), (225.0, 0.6), (250.0, 0.5), (251.0, 0.0)]
        {
            let got = capacity_at_pressure(RATED, Psi(psi)).unwrap();
            assert!((got.get() - 1_000.0 * share).abs() < 1e-9, "{psi} psi: {got}");
        }
    }

    #[test]
    fn suction_of_a_rating_carries_the_rating() {
        for gpm in (50..6_000).step_by(50) {
            let rated = GallonsPerMinute(f64::from(gpm));
            let suction = suction_for(rated).unwrap();
            assert!(suction_capacity(suction.diameter, suction.lines).unwrap() >= rated, "{gpm}");
        }
        // One more line never carries less, and no line is an error.
        for inches in [2.5, 4.0, 4.5, 5.0, 6.0, 8.0] {
            for lines in 1..5 {
                let at = |n| suction_capacity(Inches(inches), n).unwrap();
                assert!(at(lines + 1) >= at(lines));
            }
        }
        assert!(suction_capacity(Inches(6.0), 0).is_err());
    }
}
