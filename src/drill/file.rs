//! The file of fitted times that `plan` takes.

use super::{Basis, Estimate, Fitted};
use crate::finding::{Code, Finding, Outcome, Refusal, Where, read_text, toml_refusal};
use serde::{Deserialize, Serialize};
use std::path::Path;

/// The file as written. Every key is explained in data/drill.schema.json.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct DrillFile {
    /// The log it was fitted from.
    log: Option<String>,
    /// Rows of the log.
    rows: Option<usize>,
    travel: Travel,
    handling: Handling,
    service: Service,
}

#[derive(Clone, Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct Travel {
    against: Option<Basis>,
    loaded_factor: Option<Estimate>,
    empty_factor: Option<Estimate>,
    cv: Option<Estimate>,
}

#[derive(Clone, Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct Handling {
    fill_s: Option<Estimate>,
    dump_s: Option<Estimate>,
    cv: Option<Estimate>,
}

#[derive(Clone, Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct Service {
    cv: Option<Estimate>,
}

/// Least and greatest value that is believed, by kind: beyond them a unit was mistaken.
const FACTOR: (f64, f64) = (0.3, 3.0);
const HANDLING_S: (f64, f64) = (1.0, 1_800.0);
const CV: (f64, f64) = (0.0, 3.0);

/// The file's text, to four digits: finer is noise.
pub fn write(fitted: &Fitted, log: &str, rows: usize) -> String {
    let round = |estimate: Option<Estimate>| {
        let digits = |x: f64| (x * 1e4).round() / 1e4;
        estimate.map(|e| Estimate {
            value: digits(e.value),
            low: digits(e.low),
            high: digits(e.high),
            rows: e.rows,
        })
    };
    let file = DrillFile {
        log: Some(log.into()),
        rows: Some(rows),
        travel: Travel {
            against: fitted.basis,
            loaded_factor: round(fitted.loaded_factor),
            empty_factor: round(fitted.empty_factor),
            cv: round(fitted.travel_cv),
        },
        handling: Handling {
            fill_s: round(fitted.fill_handling),
            dump_s: round(fitted.dump_handling),
            cv: round(fitted.handling_cv),
        },
        service: Service { cv: round(fitted.service_cv) },
    };
    let head = "# Times of our own, fitted from a drill's log by `tankerloop drill`. `plan` takes `value`; low and\n\
                # high are the 95 % interval, rows what it rests on. A table or line left out leaves the tool's\n\
                # own figure in force. Factors are driving time over the model's; _s seconds; cv standard\n\
                # deviation over mean.\n";
    // Options and numbers always have a TOML form.
    format!("{head}{}", toml::to_string(&file).unwrap_or_default())
}

pub fn read(path: &Path) -> Outcome<Fitted> {
    parse(&read_text(path)?, &path.display().to_string())
}

pub fn parse(text: &str, file: &str) -> Outcome<Fitted> {
    let raw: DrillFile = toml::from_str(text).map_err(|e| toml_refusal(file, text, &e))?;
    let mut bad = Vec::new();
    let mut believed = |key: &str, estimate: Option<Estimate>, (least, most): (f64, f64)| {
        let value = estimate.map_or(least, |e| e.value);
        // Written so that NaN fails.
        if !(value >= least && value <= most) {
            bad.push(Finding::new(
                Code::InputInvalid,
                Where::file(file).named(key),
                format!("{key} is {value}"),
                format!("give a value from {least} to {most}, or leave it out"),
            ));
        }
        estimate
    };
    let fitted = Fitted {
        loaded_factor: believed("travel.loaded_factor", raw.travel.loaded_factor, FACTOR),
        empty_factor: believed("travel.empty_factor", raw.travel.empty_factor, FACTOR),
        basis: raw.travel.against,
        fill_handling: believed("handling.fill_s", raw.handling.fill_s, HANDLING_S),
        dump_handling: believed("handling.dump_s", raw.handling.dump_s, HANDLING_S),
        travel_cv: believed("travel.cv", raw.travel.cv, CV),
        handling_cv: believed("handling.cv", raw.handling.cv, CV),
        service_cv: believed("service.cv", raw.service.cv, CV),
    };
    if bad.is_empty() { Ok(fitted) } else { Err(Refusal(bad)) }
}
