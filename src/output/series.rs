//! Tank level, flow offered and flow drawn against time, as CSV or JSON: one row an option and step.

use crate::plan::answer::Answer;
use crate::shuttle::SeriesPoint;
use serde_json::{Value, json};

/// Heads of the columns; the keys of the JSON rows.
pub const COLUMNS: [&str; 8] = [
    "option",
    "time_s",
    "level_gal",
    "level_low_gal",
    "level_high_gal",
    "offered_gpm",
    "drawn_gpm",
    "dry_share",
];

fn row(option: usize, point: &SeriesPoint) -> [f64; 8] {
    let tenth = |value: f64| (value * 10.0).round() / 10.0;
    [
        option as f64,
        tenth(point.time.0),
        tenth(point.level.0),
        tenth(point.level_low.0),
        tenth(point.level_high.0),
        tenth(point.offered.0),
        tenth(point.drawn.0),
        (point.dry_share * 1e4).round() / 1e4,
    ]
}

fn rows<'a>(answer: &'a Answer, series: &'a [Vec<SeriesPoint>]) -> impl Iterator<Item = [f64; 8]> + 'a {
    let options = answer.options.iter().zip(series);
    options.flat_map(|(option, points)| points.iter().map(|point| row(option.number, point)))
}

/// The series of each option, in the order of the options.
pub fn csv(answer: &Answer, series: &[Vec<SeriesPoint>]) -> String {
    let mut text = COLUMNS.join(",") + "\n";
    for row in rows(answer, series) {
        text.push_str(&row.map(|value| value.to_string()).join(","));
        text.push('\n');
    }
    text
}

pub fn json(answer: &Answer, series: &[Vec<SeriesPoint>]) -> String {
    let object = |row: [f64; 8]| -> Value {
        COLUMNS.iter().zip(row).map(|(key, value)| (key.to_string(), json!(value))).collect()
    };
    let all: Vec<Value> = rows(answer, series).map(object).collect();
    format!("{:#}\n", Value::Array(all))
}
