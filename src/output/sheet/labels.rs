//! Where the words of a map go: beside what they name, clear of each other and of the legs.

/// A rectangle by its middle and half its sides, in points.
#[derive(Clone, Copy, Debug)]
pub struct Area {
    pub x: f64,
    pub y: f64,
    pub half_wide: f64,
    pub half_high: f64,
}

impl Area {
    fn overlap(&self, other: &Area) -> f64 {
        let wide = self.half_wide + other.half_wide - (self.x - other.x).abs();
        let high = self.half_high + other.half_high - (self.y - other.y).abs();
        if wide > 0.0 && high > 0.0 { wide * high } else { 0.0 }
    }

    fn holds(&self, (x, y): (f64, f64)) -> bool {
        (x - self.x).abs() < self.half_wide && (y - self.y).abs() < self.half_high
    }

    fn within(&self, wide: f64, high: f64) -> bool {
        self.x - self.half_wide > 2.0
            && self.y - self.half_high > 2.0
            && self.x + self.half_wide < wide - 2.0
            && self.y + self.half_high < high - 2.0
    }
}

/// What is taken already.
pub struct Room {
    wide: f64,
    high: f64,
    /// Signs and words: nothing may cover them.
    taken: Vec<Area>,
    /// Points of the legs: better not covered.
    lines: Vec<(f64, f64)>,
}

/// Width of a character as a share of its height; a little wide, so that words do not touch.
const WIDE: f64 = 0.64;
/// The same of the bold words that must be there, capitals most of them, in the widest of the fonts named.
const WIDE_BOLD: f64 = 0.73;
/// What covering one point of a leg is worth, as an area.
const OF_A_LINE: f64 = 14.0;
/// What a step farther off is worth: a word far from its sign names another.
const OF_A_STEP: f64 = 45.0;
/// How far off a word may be put, in heights of its letters.
const AWAY: [f64; 4] = [0.0, 0.9, 2.0, 3.4];

impl Room {
    pub fn new(wide: f64, high: f64) -> Room {
        Room { wide, high, taken: Vec::new(), lines: Vec::new() }
    }

    pub fn take(&mut self, area: Area) {
        self.taken.push(area);
    }

    /// Points of a leg, a few apart.
    pub fn line(&mut self, points: impl IntoIterator<Item = (f64, f64)>) {
        self.lines.extend(points);
    }

    /// Where a sign of this half size stands: at its place, or beside it where another sign is.
    pub fn stand(&mut self, at: (f64, f64), half: f64) -> (f64, f64) {
        let area = |(x, y): (f64, f64)| Area { x, y, half_wide: half, half_high: half };
        let free = |spot: &(f64, f64)| {
            let area = area(*spot);
            area.within(self.wide, self.high) && self.taken.iter().all(|taken| taken.overlap(&area) == 0.0)
        };
        let ring = |away: f64| (0..8).map(move |turn| (away, f64::from(turn) * std::f64::consts::FRAC_PI_4));
        let beside = ring(2.3 * half).chain(ring(3.5 * half)).map(|(away, turn)| {
            let (sine, cosine) = turn.sin_cos();
            (at.0 + away * cosine, at.1 - away * sine)
        });
        let spot = std::iter::once(at).chain(beside).find(free).unwrap_or(at);
        self.take(area(spot));
        spot
    }

    /// The middle of a place for words of this size beside a point that is kept free by `clear`. Words that
    /// must be there get the least bad place; others none unless they cover nothing.
    pub fn place(&mut self, at: (f64, f64), words: &str, size: f64, clear: f64, must: bool) -> Option<Area> {
        let wide = if must { WIDE_BOLD } else { WIDE };
        let half_wide = words.chars().count() as f64 * size * wide / 2.0 + 2.0;
        let half_high = size * 0.6;
        let (dx, dy) = (clear + half_wide, clear + half_high);
        let around = |away: f64| {
            let more = away * size;
            [
                (dx + more, 0.0),
                (-dx - more, 0.0),
                (0.0, -dy - more),
                (0.0, dy + more),
                (dx * 0.8, -dy - more),
                (-dx * 0.8, -dy - more),
                (dx * 0.8, dy + more),
                (-dx * 0.8, dy + more),
            ]
        };
        let mut best: Option<(f64, Area)> = None;
        for (rank, (x, y)) in AWAY.iter().flat_map(|away| around(*away)).enumerate() {
            let area = Area { x: at.0 + x, y: at.1 + y, half_wide, half_high };
            if !area.within(self.wide, self.high) {
                continue;
            }
            let covered: f64 = self.taken.iter().map(|taken| taken.overlap(&area)).sum();
            let crossed = self.lines.iter().filter(|point| area.holds(**point)).count() as f64;
            if !must && (covered > 0.0 || crossed > 0.0) {
                continue;
            }
            // Nearer places first among equals.
            let cost = covered * 10.0 + crossed * OF_A_LINE + (rank / 8) as f64 * OF_A_STEP + rank as f64;
            if best.as_ref().is_none_or(|(least, _)| cost < *least) {
                best = Some((cost, area));
            }
        }
        let (_, area) = best?;
        self.take(area);
        Some(area)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_keep_clear_of_each_other_and_of_the_legs() {
        let mut room = Room::new(400.0, 300.0);
        room.line((0..400).map(|x| (f64::from(x), 150.0)));
        let mut placed: Vec<Area> = Vec::new();
        for _ in 0..6 {
            let Some(area) = room.place((200.0, 150.0), "Mill Road", 10.0, 4.0, false) else { continue };
            assert!(placed.iter().all(|other| other.overlap(&area) == 0.0));
            assert!((area.y - 150.0).abs() >= area.half_high, "it lies on the leg");
            placed.push(area);
        }
        assert!(placed.len() >= 4, "{placed:?}");
        // Beyond the frame there is none.
        assert!(room.place((-500.0, 0.0), "x", 10.0, 4.0, true).is_none());
    }
}
