//! What every method says a building needs, side by side.

use crate::output::CAUTIONS;
use crate::plan::answer::Answer;
use crate::units::Shown;
use crate::water::demand::{Figure, Method};
use serde_json::{Value, json};

/// Said with every figure.
pub const NEED_CAUTIONS: [&str; 2] = [
    CAUTIONS[0],
    "The methods answer different questions and differ by design; none sees the fire. A qualified officer \
     chooses, and the edition in force locally goes before any figure here.",
];

/// A key of the scenario as the flag that gives it.
pub fn flag(key: &str) -> String {
    format!("--{}", key.replace('_', "-"))
}

/// The table, then what each method took for granted, where it is from and what to mind.
pub fn write(figures: &[Figure], shown: Shown) -> String {
    let mut text = table(figures, None, flag, shown);
    for figure in figures.iter().filter(|figure| figure.found.is_ok()) {
        text.push_str(&format!("\n{}: {}\n", figure.method.key(), figure.assumed.join("; ")));
        text.push_str(&format!("  source: {}\n", figure.method.source()));
        text.push_str(&format!("  mind: {}\n", figure.method.caution()));
    }
    text.push('\n');
    for caution in NEED_CAUTIONS {
        text.push_str(&format!("caution: {caution}\n"));
    }
    text
}

/// Of a plan, with the method it took marked; nothing where no building is described.
pub fn of_plan(answer: &Answer, shown: Shown) -> String {
    let need = &answer.need_found;
    if need.figures.is_empty() {
        return String::new();
    }
    let given = if need.by == Method::Given {
        format!("needed flow: {} as given; of the building the methods say:\n", shown.flow(need.flow))
    } else {
        format!("needed flow by {}, of the building the methods say:\n", need.by.key())
    };
    format!("{given}{}\n", table(&need.figures, Some(need.by), str::to_string, shown))
}

fn table(figures: &[Figure], used: Option<Method>, key: fn(&str) -> String, shown: Shown) -> String {
    let head = ["method", "flow", "least supply", ""].map(str::to_string);
    let mut rows = vec![head];
    rows.extend(figures.iter().map(|figure| {
        let method = figure.method.key().to_string();
        let name = figure.method.name();
        match &figure.found {
            Ok(needed) => {
                let used = if used == Some(figure.method) { ": used" } else { "" };
                let supply = needed.supply.map_or("-".into(), |supply| shown.volume(supply));
                [method, shown.flow(needed.flow), supply, format!("{name}{used}")]
            }
            Err(why) => {
                [method, "-".into(), "-".into(), format!("{name}: not worked out; {}", why.text(key))]
            }
        }
    }));
    let width = |column: usize| rows.iter().map(|row| row[column].chars().count()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..3).map(width).collect();
    let line = |[method, flow, supply, name]: &[String; 4]| {
        let [a, b, c] = [widths[0], widths[1], widths[2]];
        let line = format!("{method:<a$}  {flow:<b$}  {supply:<c$}  {name}");
        format!("{}\n", line.trim_end())
    };
    rows.iter().map(line).collect()
}

/// One object a method; `needed_flow_methods` of a plan's answer.
pub fn methods(figures: &[Figure], used: Option<Method>, key: fn(&str) -> String) -> Value {
    let of = |figure: &Figure| {
        json!({
            "method": figure.method.key(),
            "name": figure.method.name(),
            "flow_gpm": figure.flow(),
            "minimum_supply_gal": figure.supply(),
            "used": used == Some(figure.method),
            "assumed": figure.assumed,
            "not_worked_out": figure.found.as_ref().err().map(|why| why.text(key)),
            "source": figure.method.source(),
            "caution": figure.method.caution(),
        })
    };
    Value::Array(figures.iter().map(of).collect())
}

/// The same for a program: every key ends in its unit.
pub fn json(figures: &[Figure]) -> Value {
    let mut methods = methods(figures, None, flag);
    for method in methods.as_array_mut().into_iter().flatten().filter_map(Value::as_object_mut) {
        method.remove("used");
    }
    json!({ "methods": methods, "cautions": NEED_CAUTIONS })
}
