//! The dump site as a drawing in plain text: tanks in a row along the road, the drafted one first,
//! hose lines on the far side of them, the clear lane on the near side. Not to scale.

use crate::plan::rig::{Need, RigAnswer};
use crate::sites::space::CLEAR_LANE;
use crate::units::Shown;
use crate::water::rig::stages::siphon_from;

/// Width of a box with its walls, and what is left between two.
const BOX: usize = 16;
const GAP: usize = 3;
const LEFT: usize = 1;
/// Most strainers drawn one beside the other in a box.
const MOST_DRAWN: u32 = 3;
/// Rows of the hose side above the tanks: text, supply line, pumper, suctions and motive lines.
const PUMPER_TOP: usize = 3;
const TANK_TOP: usize = 10;

/// Characters by row and column. Grows as it is written on.
#[derive(Default)]
struct Canvas {
    rows: Vec<Vec<char>>,
}

impl Canvas {
    fn put(&mut self, row: usize, column: usize, text: &str) {
        for (i, c) in text.chars().enumerate() {
            *self.at(row, column + i) = c;
        }
    }
    fn at(&mut self, row: usize, column: usize) -> &mut char {
        if self.rows.len() <= row {
            self.rows.resize(row + 1, Vec::new());
        }
        let row = &mut self.rows[row];
        if row.len() <= column {
            row.resize(column + 1, ' ');
        }
        &mut row[column]
    }
    /// A box from corner to corner, with lines of text in it, cut to its width.
    fn frame(&mut self, top: usize, bottom: usize, left: usize, text: &[&str]) {
        let side = format!("+{}+", "-".repeat(BOX - 2));
        self.put(top, left, &side);
        self.put(bottom, left, &side);
        for row in top + 1..bottom {
            self.put(row, left, "|");
            self.put(row, left + BOX - 1, "|");
        }
        for (i, line) in text.iter().enumerate() {
            let cut: String = line.chars().take(BOX - 3).collect();
            self.put(top + 1 + i, left + 2, &cut);
        }
    }
    /// A line of one character down a column.
    fn down(&mut self, column: usize, rows: std::ops::Range<usize>, c: char) {
        for row in rows {
            *self.at(row, column) = c;
        }
    }
    /// All rows of the same width, each ended.
    fn text(self) -> String {
        let width = self.rows.iter().map(Vec::len).max().unwrap_or(0);
        let line = |row: &Vec<char>| format!("{:<width$}\n", row.iter().collect::<String>());
        self.rows.iter().map(line).collect()
    }
}

fn left_of(tank: u32) -> usize {
    LEFT + (tank as usize - 1) * (BOX + GAP)
}

/// The drawing, every line of the same width. Parts that are called for carry a `*`.
pub fn draw(answer: &RigAnswer, shown: Shown) -> String {
    let mut canvas = Canvas::default();
    let rig = &answer.rig;
    let called = |have: u32, number: u32| if number > have { "*" } else { "" };
    let (mut tanks, mut siphons, mut second, mut larger) = (rig.tanks, rig.siphons, false, false);
    let mut suctions = rig.pumper.suctions;
    let mut more_lines = "";
    if let Need::Call(call) = &answer.need {
        tanks -= call.tanks;
        siphons -= call.siphons;
        suctions -= call.suctions;
        (second, larger) = (call.second_pumper.is_some(), call.larger_pumper.is_some());
        more_lines = if call.lines > 0 { "*" } else { "" };
    }
    // Siphons out of a tank that is not there cannot be drawn, nor used.
    let tubes = if rig.tanks < 2 { 0 } else { rig.siphons };
    let floor = TANK_TOP + 5 + tubes as usize;
    let stars = |star: bool| if star { "*" } else { "" };

    canvas.put(0, LEFT, "HOSE SIDE: no vehicle passes here");
    let line = match &rig.line {
        Some(line) => format!(
            "attack: {} x {}{more_lines}, {}",
            line.lay.lines,
            shown.bore(line.lay.diameter.diameter()),
            shown.length(line.lay.length)
        ),
        None => "attack".to_string(),
    };
    canvas.put(1, LEFT + 2, &format!("+====> supply line to the {line}"));
    canvas.put(2, LEFT + 2, "#");
    let mut pumper = |left: usize, name: &str, pump: &crate::water::rig::Pumper, have: u32| {
        let rated = shown.flow(pump.rated);
        canvas.frame(PUMPER_TOP, PUMPER_TOP + 3, left, &[name, &rated]);
        let drawn = pump.suctions.min(MOST_DRAWN);
        for suction in 1..=drawn {
            let column = left + 2 + 4 * (suction as usize - 1);
            canvas.down(column + 1, PUMPER_TOP + 4..TANK_TOP + 1, '|');
            canvas.put(TANK_TOP + 1, column, &format!("(o){}", called(have, suction)));
        }
        if pump.suctions > drawn {
            canvas.put(TANK_TOP + 1, left + BOX - 3, &format!("x{}", pump.suctions));
        }
    };
    let boxes = |canvas: &mut Canvas, tank: u32, volume: &str| {
        let what = match (tank, rig.tanks) {
            (1, 1) => "drafted",
            (1, _) => "drafted only",
            _ => "dump here",
        };
        let number = format!("TANK {tank}{}", called(tanks, tank));
        canvas.frame(TANK_TOP, floor, left_of(tank), &["", &number, volume, what]);
    };
    pumper(left_of(1), &format!("PUMPER{}", stars(larger)), &rig.pumper, suctions);
    if let Some(transfer) = &rig.transfer {
        let have = if second { 0 } else { transfer.suctions };
        pumper(left_of(2), &format!("2ND PUMPER{}", stars(second)), transfer, have);
    }
    let strainers: Vec<String> = (TANK_TOP..=TANK_TOP + 1)
        .map(|row| canvas.rows.get(row).map(|r| r.iter().collect()).unwrap_or_default())
        .collect();
    for (tank, volume) in (1..).zip(&answer.tanks) {
        boxes(&mut canvas, tank, &shown.volume(*volume));
    }
    // The suctions go over the rim: drawn again over the boxes.
    for (row, text) in strainers.iter().enumerate() {
        for (column, c) in text.chars().enumerate().filter(|(_, c)| *c != ' ') {
            *canvas.at(TANK_TOP + row, column) = c;
        }
    }
    for siphon in 1..=tubes {
        let from = siphon_from(siphon, rig.tanks);
        let row = TANK_TOP + 4 + siphon as usize;
        let (start, end) = (left_of(1) + BOX - 4, left_of(from) + 2);
        for column in start..end {
            let wall = matches!(*canvas.at(row, column), '|');
            *canvas.at(row, column) = if wall { '+' } else { '=' };
        }
        canvas.put(row, start, "<");
        canvas.put(row, end, &format!("S{siphon}{}", called(siphons, siphon)));
    }
    if tubes > 0 {
        motive_lines(&mut canvas, answer, tubes);
    }
    match rig.tanks {
        1 => canvas.put(floor + 1, left_of(1) + BOX - 8, "^ dump"),
        n => (2..=n).for_each(|tank| canvas.put(floor + 1, left_of(tank) + 3, "^ dump ^")),
    }
    let lane = shown.length(CLEAR_LANE);
    canvas.put(
        floor + 3,
        LEFT,
        &format!("  >>>  CLEAR LANE, {lane}: one tanker dumps, the next passes  >>>"),
    );
    let road = "=".repeat(canvas.rows.iter().map(Vec::len).max().unwrap_or(0) - LEFT);
    canvas.put(floor + 2, LEFT, &road);
    canvas.put(floor + 4, LEFT, &road);
    canvas.text()
}

/// From the pumpers over the tanks down into each with a siphon.
fn motive_lines(canvas: &mut Canvas, answer: &RigAnswer, tubes: u32) {
    let rig = &answer.rig;
    let row = TANK_TOP - 2;
    let from = left_of(1) + BOX - 2;
    let far = (1..=tubes).map(|siphon| siphon_from(siphon, rig.tanks)).max().unwrap_or(1);
    let down = |tank: u32| left_of(tank) + BOX - 2;
    for column in from..=down(far) {
        if *canvas.at(row, column) == ' ' {
            *canvas.at(row, column) = '.';
        }
    }
    canvas.down(from, PUMPER_TOP + 4..row + 1, ':');
    if rig.transfer.is_some() {
        canvas.down(down(2), PUMPER_TOP + 4..row + 1, ':');
    }
    for tank in 2..=far {
        canvas.down(down(tank), row..TANK_TOP, ':');
    }
}
