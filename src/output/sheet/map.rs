//! The map of an option as a vector picture in black and white, north up. What tells a loaded from an empty
//! leg is the line, the arrows and words; grey is only for what lies under them.

use crate::output::export::text::html;
use crate::output::sheet::Sheet;
use crate::output::sheet::ground::{Ground, Weight};
use crate::output::sheet::labels::{Area, Room};
use crate::output::sheet::marks;
use crate::output::sheet::said::{Driven, PlanOption, Round, Said, Which};
use crate::place::{Bounds, Place};
use geo::{LineString, Simplify};

pub(super) type Point = (f64, f64);

/// Around what is shown, in points.
const MARGIN: f64 = 30.0;
/// Points a metre at most: a loop of a few yards is not blown up to the whole picture.
const LARGEST: f64 = 0.5;
/// A line is drawn this truly, in points.
const TRUE_TO: f64 = 0.5;
/// The legs' distance from the middle of the road, the first loop's and each further one's.
const ASIDE: (f64, f64) = (2.8, 5.2);
const BETWEEN_ARROWS: f64 = 78.0;

/// All places of an option, and the fire.
pub fn places<'a>(said: &'a Said, option: &'a PlanOption) -> impl Iterator<Item = Place> + 'a {
    of_rounds(said, option, &option.rounds)
}

fn of_rounds<'a>(
    said: &'a Said,
    option: &'a PlanOption,
    rounds: &'a [Round],
) -> impl Iterator<Item = Place> + 'a {
    let legs = rounds.iter().flat_map(|r| r.loaded.line.iter().chain(&r.empty.line));
    let hose = option.supply.iter().flat_map(|(_, line)| line);
    legs.chain(hose).copied().chain([option.at, said.incident_at])
}

pub(super) struct Picture {
    pub wide: f64,
    pub high: f64,
    middle: Place,
    /// Of the plane on which `middle` lies at 0, 0.
    centre: Point,
    /// Points a metre.
    pub scale: f64,
    pub svg: String,
}

impl Picture {
    fn around(bounds: &Bounds, wide: f64, high: f64) -> Picture {
        let middle = bounds.west_south.between(bounds.east_north, 0.5);
        let (a, b) = (bounds.west_south.offset_from(middle), bounds.east_north.offset_from(middle));
        let (across, up) = ((b.0 - a.0).max(1.0), (b.1 - a.1).max(1.0));
        let scale = ((wide - 2.0 * MARGIN) / across).min((high - 2.0 * MARGIN) / up).min(LARGEST);
        let centre = ((a.0 + b.0) / 2.0, (a.1 + b.1) / 2.0);
        Picture { wide, high, middle, centre, scale, svg: String::new() }
    }

    pub fn at(&self, place: Place) -> Point {
        let (east, north) = place.offset_from(self.middle);
        (
            self.wide / 2.0 + (east - self.centre.0) * self.scale,
            self.high / 2.0 - (north - self.centre.1) * self.scale,
        )
    }

    fn line(&self, places: &[Place]) -> Vec<Point> {
        let line: LineString = places.iter().map(|p| self.at(*p)).collect::<Vec<_>>().into();
        line.simplify(TRUE_TO).into_inner().into_iter().map(|c| (c.x, c.y)).collect()
    }

    fn near(&self, line: &[Point]) -> bool {
        line.iter().any(|(x, y)| *x > -60.0 && *x < self.wide + 60.0 && *y > -60.0 && *y < self.high + 60.0)
    }

    fn path(&mut self, class: &str, lines: &[Vec<Point>]) {
        let d: String = lines.iter().map(|line| drawn(line)).collect();
        if !d.is_empty() {
            self.svg.push_str(&format!("<path class=\"{class}\" d=\"{d}\"/>"));
        }
    }

    pub fn words(&mut self, class: &str, (x, y): Point, size: f64, text: &str) {
        let text = html(text);
        // The middle of capitals lies above the line by a third of their size.
        let y = y + size * 0.35;
        self.svg.push_str(&format!("<text class=\"{class}\" x=\"{x:.1}\" y=\"{y:.1}\">{text}</text>"));
    }
}

fn drawn(line: &[Point]) -> String {
    let step = |(i, (x, y)): (usize, &Point)| format!("{}{x:.1} {y:.1}", if i == 0 { "M" } else { "L" });
    line.iter().enumerate().map(step).collect()
}

/// Moved to the right of the way it runs, so that a road driven both ways shows both.
fn aside(line: &[Point], by: f64) -> Vec<Point> {
    let moved = |i: usize| {
        let ((x0, y0), (x1, y1)) = (line[i.saturating_sub(1)], line[(i + 1).min(line.len() - 1)]);
        let (dx, dy) = (x1 - x0, y1 - y0);
        let length = dx.hypot(dy).max(1e-9);
        (line[i].0 - dy / length * by, line[i].1 + dx / length * by)
    };
    (0..line.len()).map(moved).collect()
}

/// Points every so often along a line, with the direction there in degrees clockwise from the right.
fn along(line: &[Point], every: f64) -> Vec<(Point, f64)> {
    let mut found = Vec::new();
    let mut rest = every / 2.0;
    for pair in line.windows(2) {
        let (dx, dy) = (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1);
        let length = dx.hypot(dy);
        while length > 0.0 && rest <= length {
            let at = (pair[0].0 + dx * rest / length, pair[0].1 + dy * rest / length);
            found.push((at, dy.atan2(dx).to_degrees()));
            rest += every;
        }
        rest -= length;
    }
    found
}

/// The point so many metres along a leg.
pub(super) fn at_metres(places: &[Place], metres: f64) -> Place {
    let mut left = metres;
    for pair in places.windows(2) {
        let length = pair[0].distance(pair[1]).0;
        if left <= length && length > 0.0 {
            return pair[0].between(pair[1], left / length);
        }
        left -= length;
    }
    places[places.len() - 1]
}

/// The map of some loops of the option of a sheet; `wide` and `high` in points, as large as it is printed.
pub fn draw(sheet: &Sheet, rounds: &[Round], wide: f64, high: f64) -> String {
    let Sheet { said, option, ground, units, .. } = sheet;
    let Some(bounds) = Bounds::around(of_rounds(said, option, rounds)) else { return String::new() };
    let mut picture = Picture::around(&bounds, wide, high);
    let mut room = Room::new(wide, high);
    if let Some(ground) = ground {
        background(&mut picture, ground);
    }
    let bar = marks::scale_bar(&picture, units.0);
    room.take(Area { x: 60.0, y: high - 12.0, half_wide: 60.0, half_high: 12.0 });
    room.take(Area { x: wide - 14.0, y: 22.0, half_wide: 14.0, half_high: 22.0 });
    let lines = legs(&mut picture, rounds);
    for line in lines.iter() {
        room.line(along(line, 4.0).into_iter().map(|(at, _)| at));
    }
    if let Some((_, hose)) = &option.supply {
        let hose = picture.line(hose);
        picture.path("hose-halo", std::slice::from_ref(&hose));
        picture.path("hose", &[hose]);
    }
    marks::signs(&mut picture, &mut room, sheet, rounds);
    marks::leg_words(&mut picture, &mut room, option, rounds);
    marks::streets(&mut picture, &mut room, rounds, *ground);
    picture.svg.push_str(&bar);
    let label = format!(
        "Map of option {}: loops, sites and roads. The cards tell the same in words.",
        option.dump.option
    );
    format!(
        "<svg class=\"map\" viewBox=\"0 0 {wide:.0} {high:.0}\" role=\"img\" aria-label=\"{}\"><rect class=\"land\" \
         width=\"{wide:.0}\" height=\"{high:.0}\"/>{}<rect class=\"frame\" x=\"0.75\" y=\"0.75\" width=\"{:.1}\" \
         height=\"{:.1}\"/></svg>",
        html(&label),
        picture.svg,
        wide - 1.5,
        high - 1.5
    )
}

fn background(picture: &mut Picture, ground: &Ground) {
    let wet: Vec<Vec<Point>> = ground.water.iter().flatten().map(|ring| picture.line(ring)).collect();
    let wet: Vec<_> = wet.into_iter().filter(|ring| picture.near(ring)).collect();
    picture.path("water", &wet);
    let courses: Vec<Vec<Point>> = ground.courses.iter().map(|line| picture.line(line)).collect();
    let courses: Vec<_> = courses.into_iter().filter(|line| picture.near(line)).collect();
    picture.path("course", &courses);
    // Ways to houses and fields are drawn where there is room between them.
    let small = picture.scale > 0.05;
    for (weight, class) in [
        (Weight::Track, "track"),
        (Weight::Small, "small"),
        (Weight::Middle, "middle"),
        (Weight::Main, "main"),
    ] {
        if weight == Weight::Track && !small {
            continue;
        }
        for closed in [false, true] {
            let of = ground.roads.iter().filter(|road| road.weight == weight && road.closed == closed);
            let lines: Vec<Vec<Point>> = of.map(|road| picture.line(&road.line)).collect();
            let lines: Vec<_> = lines.into_iter().filter(|line| picture.near(line)).collect();
            picture.path(if closed { "shut" } else { class }, &lines);
        }
    }
}

/// Empty legs first, so that the loaded ones lie on top. The lines as drawn.
fn legs(picture: &mut Picture, rounds: &[Round]) -> Vec<Vec<Point>> {
    let mut all = Vec::new();
    let of = |which: Which| {
        let leg = move |(i, r): (usize, &_)| (ASIDE.0 + ASIDE.1 * i as f64, pick(r, which).line.clone());
        rounds.iter().enumerate().map(leg).collect::<Vec<_>>()
    };
    for (which, class) in [(Which::Empty, "empty"), (Which::Loaded, "loaded")] {
        let lines: Vec<Vec<Point>> =
            of(which).into_iter().map(|(by, line)| aside(&picture.line(&line), by)).collect();
        picture.path(&format!("{class}-halo"), &lines);
        picture.path(class, &lines);
        all.push((class, lines));
    }
    for (class, lines) in &all {
        for (at, degrees) in lines.iter().flat_map(|line| along(line, BETWEEN_ARROWS)) {
            picture.svg.push_str(&format!(
                "<path class=\"arrow-{class}\" d=\"M-5.5 -5.2L7 0L-5.5 5.2L-2.8 0Z\" transform=\"translate({:.1} {:.1}) \
                 rotate({degrees:.0})\"/>",
                at.0, at.1
            ));
        }
    }
    all.into_iter().flat_map(|(_, lines)| lines).collect()
}

pub(super) fn pick(round: &Round, which: Which) -> &Driven {
    match which {
        Which::Loaded => &round.loaded,
        Which::Empty => &round.empty,
    }
}
