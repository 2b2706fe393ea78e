//! One row of a site list, checked: every value that is wrong is told, with the remedy.

use crate::finding::{Code, Finding, Findings, Where};
use crate::sites::fill::{Details, FillSite, Pipe, Season};
use crate::sites::fill_file::{COLUMNS, Row};
use crate::units::{Feet, Gallons, GallonsPerMinute, Inches, Psi, Seconds};

/// Turns a row into a site; what is wrong with it goes to `found`, all of it.
pub(super) fn check(row: Row, file: &str, found: &mut Findings) -> Option<FillSite> {
    let mut values = row.values;
    let name = values.remove("name").unwrap_or_default();
    let origin = Where::file(file).row(row.number);
    let before = found.len();
    let mut cells = Cells { values, place: origin.clone().named(name.clone()), found };
    if name.trim().is_empty() {
        cells.wrong("the site has no name".into(), "give every site its own name");
    }
    let place =
        row.place.map_err(|e| cells.wrong(e.to_string(), "write longitude first, in decimal degrees"));
    let kind = match cells.take("kind") {
        None => {
            cells.wrong("the kind is missing".into(), "say what the site is: hydrant, dry-hydrant, draft, …");
            None
        }
        Some(text) => text.parse().map_err(|e| cells.wrong(e, "correct the kind")).ok(),
    };
    if let Some(kind) = kind {
        cells.only_what_means_something(kind);
    }
    let flow = cells.number("flow_gpm", 0.0);
    let static_psi = cells.number("static_psi", 0.0);
    let residual_psi = cells.number("residual_psi", 0.0);
    let volume = cells.number("volume_gal", 0.0);
    let berths = cells.whole("berths", 1, 50);
    let handling = cells.number("handling_s", -1e-9);
    let lift = cells.number("lift_ft", -100.0);
    let season = cells.season("season").unwrap_or(Season::ALL_YEAR);
    let details = cells.details();
    let in_service = match cells.take("in_service").as_deref() {
        None | Some("true" | "yes" | "1") => true,
        Some("false" | "no" | "0") => false,
        Some(other) => {
            cells.wrong(format!("in_service = {other} is neither true nor false"), "write true or false");
            true
        }
    };
    let note = cells.take("note").unwrap_or_default();
    cells.nothing_left();
    let only_notes = found.iter().skip(before).all(|f| f.code == Code::ColumnIgnored);
    let (place, kind) = (place.ok()?, kind?);
    only_notes.then_some(FillSite {
        name,
        kind,
        place,
        flow: flow.map(GallonsPerMinute),
        static_pressure: static_psi.map(Psi),
        residual_pressure: residual_psi.map(Psi),
        volume: volume.map(Gallons),
        berths: berths.unwrap_or(1),
        season,
        handling: handling.map(Seconds),
        lift: lift.map(Feet),
        assumed_lift: None,
        details,
        in_service,
        verified: true,
        note,
        origin,
    })
}

/// The row's values that were not read yet.
struct Cells<'a> {
    values: std::collections::BTreeMap<String, String>,
    place: Where,
    found: &'a mut Findings,
}

impl Cells<'_> {
    fn wrong(&mut self, cause: String, action: &str) {
        self.found.add_new(Finding::new(Code::InputInvalid, self.place.clone(), cause, action));
    }

    fn ignored(&mut self, cause: String, action: &str) {
        self.found.add_new(Finding::new(Code::ColumnIgnored, self.place.clone(), cause, action));
    }

    fn take(&mut self, key: &str) -> Option<String> {
        self.values.remove(key)
    }

    /// Leaves out, and tells, what is nothing to this kind of site.
    fn only_what_means_something(&mut self, kind: crate::sites::fill::Kind) {
        for (name, kinds) in COLUMNS {
            if !kinds.is_empty() && !kinds.contains(&kind) && self.values.remove(name).is_some() {
                let cause = format!("{name} means nothing for a site of the kind {}", kind.as_str());
                self.ignored(cause, "check the kind; it was left out");
            }
        }
    }

    fn nothing_left(&mut self) {
        for key in std::mem::take(&mut self.values).into_keys() {
            let cause = format!("\"{key}\" is not a column this reader knows");
            self.ignored(cause, "check the spelling; it was left out");
        }
    }

    /// A number greater than `least`.
    fn number(&mut self, key: &str, least: f64) -> Option<f64> {
        let text = self.take(key)?;
        match text.parse::<f64>() {
            Ok(value) if value.is_finite() && value > least => Some(value),
            _ => {
                self.wrong(
                    format!("{key} = {text} is not a number greater than {least}"),
                    "correct it or leave it empty",
                );
                None
            }
        }
    }

    fn whole(&mut self, key: &str, least: u32, most: u32) -> Option<u32> {
        let value = self.number(key, f64::from(least) - 1.0)?;
        if value.fract() == 0.0 && (f64::from(least)..=f64::from(most)).contains(&value) {
            return Some(value as u32);
        }
        self.wrong(format!("{key} is not a whole number from {least} to {most}"), "give how many there are");
        None
    }

    fn season(&mut self, key: &str) -> Option<Season> {
        let text = self.take(key)?;
        text.parse().map_err(|e| self.wrong(e, "correct the season")).ok()
    }

    /// Numbers that say something together only: all of them, or none.
    fn together<const N: usize>(&mut self, keys: [&str; N]) -> Option<[f64; N]> {
        let given: Vec<&str> = keys.into_iter().filter(|key| self.values.contains_key(*key)).collect();
        let missing: Vec<&str> = keys.into_iter().filter(|key| !given.contains(key)).collect();
        if !given.is_empty() && !missing.is_empty() {
            let cause = format!("{} is given without {}", given.join(", "), missing.join(", "));
            self.wrong(cause, "give all of them or none");
        }
        let mut numbers = [0.0; N];
        let mut whole = missing.is_empty();
        for (number, key) in numbers.iter_mut().zip(keys) {
            match self.number(key, 0.0) {
                Some(value) => *number = value,
                None => whole = false,
            }
        }
        whole.then_some(numbers)
    }

    fn details(&mut self) -> Details {
        let pitot = self.together(["outlet_in", "pitot_psi"]);
        let pipe = self.together(["pipe_in", "pipe_ft"]);
        let fittings = ["elbows_90", "elbows_45", "reducers"].map(|key| (key, self.whole(key, 0, 50)));
        if let (None, Some((key, _))) = (pipe, fittings.iter().find(|(_, count)| count.is_some())) {
            self.wrong(format!("{key} is given without pipe_in and pipe_ft"), "give the pipe too");
        }
        let [elbows_90, elbows_45, reducers] = fittings.map(|(_, count)| count.unwrap_or(0));
        let suctions = self.whole("suctions", 1, 10);
        let suction = self.number("suction_in", 0.0);
        if suctions.is_some() && suction.is_none() {
            self.wrong("suctions is given without suction_in".into(), "give the diameter too");
        }
        let shares = self.take("shares");
        let shared_flow = self.number("shared_gpm", 0.0).map(GallonsPerMinute);
        if shared_flow.is_some() && shares.is_none() {
            self.wrong("shared_gpm is given without shares".into(), "name the main or pond that is shared");
        }
        Details {
            pitot: pitot.map(|[inches, psi]| (Inches(inches), Psi(psi))),
            pump: self.number("pump_gpm", 0.0).map(GallonsPerMinute),
            drought_lift: self.number("drought_lift_ft", -100.0).map(Feet),
            suction: suction.map(|inches| (Inches(inches), suctions.unwrap_or(1))),
            pipe: pipe.map(|[inches, feet]| Pipe {
                diameter: Inches(inches),
                length: Feet(feet),
                elbows_90,
                elbows_45,
                reducers,
            }),
            stream: self
                .together(["width_ft", "depth_ft", "float_ft", "float_s"])
                .map(|[width, depth, way, time]| (Feet(width), Feet(depth), Feet(way), Seconds(time))),
            pond: self.together(["acres", "usable_depth_ft"]).map(|[acres, feet]| (acres, Feet(feet))),
            ice: self.season("ice"),
            shares,
            shared_flow,
        }
    }
}
