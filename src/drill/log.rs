//! The log: a CSV of timed legs, fills and dumps. Every bad row is named.

use crate::finding::{Code, Finding, Findings, Outcome, Refusal, Where, read_text};
use std::collections::BTreeMap;
use std::path::Path;

/// `tanker`, `what` and `seconds` are needed in every row.
const COLUMNS: [&str; 8] =
    ["tanker", "what", "seconds", "gallons", "water_s", "modelled_s", "distance_mi", "note"];
/// Times beyond these were written in another unit, or the watch ran on.
const LONGEST_S: f64 = 7_200.0;
const MOST_GAL: f64 = 20_000.0;
const MOST_MI: f64 = 50.0;

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum What {
    /// A leg with a full tank.
    Loaded,
    Empty,
    Fill,
    Dump,
}

impl What {
    pub fn as_str(self) -> &'static str {
        match self {
            What::Loaded => "loaded",
            What::Empty => "empty",
            What::Fill => "fill",
            What::Dump => "dump",
        }
    }

    fn parse(text: &str) -> Option<What> {
        [What::Loaded, What::Empty, What::Fill, What::Dump].into_iter().find(|what| what.as_str() == text)
    }
}

/// One timed thing.
#[derive(Clone, Debug, PartialEq)]
pub struct Timed {
    /// Line of the file.
    pub row: usize,
    pub tanker: String,
    pub what: What,
    pub seconds: f64,
    /// Of a fill or a dump.
    pub gallons: Option<f64>,
    /// Of its seconds, those in which water moved.
    pub water_s: Option<f64>,
    /// Of a leg: tankerloop's time for it.
    pub modelled_s: Option<f64>,
    pub distance_mi: Option<f64>,
}

pub fn read(path: &Path, findings: &mut Findings) -> Outcome<Vec<Timed>> {
    parse(&read_text(path)?, &path.display().to_string(), findings)
}

/// Refuses the log if one row is malformed, and names all that are.
pub fn parse(text: &str, file: &str, findings: &mut Findings) -> Outcome<Vec<Timed>> {
    let mut reader =
        csv::ReaderBuilder::new().trim(csv::Trim::All).comment(Some(b'#')).from_reader(text.as_bytes());
    let broken = |e: csv::Error| {
        let row = e.position().map(|p| p.line() as usize);
        let place = row.map_or(Where::file(file), |row| Where::file(file).row(row));
        Finding::new(Code::FileUnreadable, place, format!("the row cannot be read ({e})"), "mend the row")
    };
    let headers = reader.headers().map_err(|e| Refusal(vec![broken(e)]))?.clone();
    let head = |cause: String, code: Code| {
        let action = format!("give the columns {}", COLUMNS.join(", "));
        Finding::new(code, Where::file(file).row(1), cause, action)
    };
    for wanted in &COLUMNS[..3] {
        if !headers.iter().any(|h| h == *wanted) {
            return Err(head(format!("the column \"{wanted}\" is missing"), Code::InputInvalid).into());
        }
    }
    for unknown in headers.iter().filter(|h| !COLUMNS.contains(h)) {
        findings.add(head(format!("the column \"{unknown}\" is not read"), Code::ColumnIgnored));
    }
    let (mut rows, mut bad) = (Vec::new(), Vec::new());
    for record in reader.records() {
        let record = match record {
            Ok(record) => record,
            Err(e) => {
                bad.push(broken(e));
                continue;
            }
        };
        let row = record.position().map_or(0, |p| p.line() as usize);
        let values: BTreeMap<&str, &str> =
            headers.iter().zip(record.iter()).filter(|(_, value)| !value.is_empty()).collect();
        match timed(row, &values) {
            Ok(timed) => rows.push(timed),
            Err((cause, action)) => {
                bad.push(Finding::new(Code::InputInvalid, Where::file(file).row(row), cause, action));
            }
        }
    }
    if bad.is_empty() { Ok(rows) } else { Err(Refusal(bad)) }
}

/// One row, or what is wrong with it and what to do.
fn timed(row: usize, values: &BTreeMap<&str, &str>) -> Result<Timed, (String, String)> {
    let number = |key: &str, most: f64| -> Result<Option<f64>, (String, String)> {
        let Some(text) = values.get(key) else { return Ok(None) };
        match text.parse::<f64>() {
            Ok(value) if value > 0.0 && value <= most => Ok(Some(value)),
            _ => Err((format!("{key} is \"{text}\""), format!("give a number above 0, at most {most}"))),
        }
    };
    let missing = |key: &str| (format!("{key} is not given"), format!("fill in {key}, or strike the row"));
    let tanker = values.get("tanker").ok_or_else(|| missing("tanker"))?.to_string();
    let text = values.get("what").ok_or_else(|| missing("what"))?;
    let what = What::parse(text)
        .ok_or_else(|| (format!("what is \"{text}\""), "write loaded, empty, fill or dump".to_string()))?;
    let timed = Timed {
        row,
        tanker,
        what,
        seconds: number("seconds", LONGEST_S)?.ok_or_else(|| missing("seconds"))?,
        gallons: number("gallons", MOST_GAL)?,
        water_s: number("water_s", LONGEST_S)?,
        modelled_s: number("modelled_s", LONGEST_S)?,
        distance_mi: number("distance_mi", MOST_MI)?,
    };
    match what {
        What::Loaded | What::Empty if timed.modelled_s.is_none() && timed.distance_mi.is_none() => Err((
            "a leg without modelled_s or distance_mi".into(),
            "give tankerloop's time for the leg (`tankerloop drive`), or its miles".into(),
        )),
        What::Fill | What::Dump if timed.gallons.is_none() => Err(missing("gallons")),
        _ if timed.water_s.is_some_and(|water| water > timed.seconds) => Err((
            format!("water_s is more than seconds, {}", timed.seconds),
            "seconds is the whole time in the berth, water_s the part in which water moves".into(),
        )),
        _ => Ok(timed),
    }
}
