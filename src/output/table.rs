//! The ranked options as a short table for a terminal.

use crate::finding::Code;
use crate::output::{in_time, need};
use crate::plan::answer::{Answer, PlanOption, Simulated};
use crate::plan::bridges::CrossedBridge;
use crate::routing::bridge::Weight;
use crate::shuttle::loops::LoopKind;
use crate::units::Shown;

const HEADS: [&str; 8] = [
    "option",
    "sustained",
    "need",
    "first water",
    "held from",
    "one lost",
    "dump site",
    "fill sites (tankers)",
];

pub fn write(answer: &Answer, shown: Shown) -> String {
    let mut text = format!(
        "{}: {} needs {} for {:.0} min at {:.0} % reliability\n\n",
        answer.name,
        answer.incident_name,
        shown.flow(answer.need),
        answer.period.minutes(),
        answer.reliability * 100.0
    );
    text.push_str(&need::of_plan(answer, shown));
    let rows: Vec<[String; 8]> = answer.options.iter().map(|o| row(o, shown)).collect();
    let width = |column: usize| {
        let cells = rows.iter().map(|r| r[column].chars().count());
        cells.chain([HEADS[column].len()]).max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..8).map(width).collect();
    let mut line = |cells: &[String]| {
        let padded: Vec<String> =
            cells.iter().zip(&widths).map(|(cell, width)| format!("{cell:<width$}")).collect();
        text.push_str(padded.join("  ").trim_end());
        text.push('\n');
    };
    line(&HEADS.map(str::to_string));
    for row in &rows {
        line(row);
    }
    text.push('\n');
    for option in &answer.options {
        if let Some(Simulated { limitation, .. }) = &option.simulated {
            text.push_str(&format!(
                "option {}: held back by {}; relief gains {}\n",
                option.number,
                limitation.text,
                shown.flow(limitation.gain)
            ));
        }
    }
    let ceilings = answer.findings.iter().filter(|f| f.code == Code::NotSimulated);
    text.extend(ceilings.map(|f| format!("{f}\n")));
    text.push_str(&bridges(&answer.options, shown));
    text.push_str(&trade_offs(&answer.options, shown));
    text.push('\n');
    text.push_str(&in_time::text(answer, shown));
    if answer.options.is_empty() {
        text.push_str("no option: no tanker has a loop over any fill site\n");
        let why = answer.findings.iter().filter(|f| f.code == Code::NoDumpSite);
        text.extend(why.map(|f| format!("{f}\n")));
    }
    let unused: Vec<_> = answer.sites.iter().filter_map(|s| Some((s, s.used.as_ref().err()?))).collect();
    if !unused.is_empty() {
        text.push_str("\nfill sites not used:\n");
        for (site, reason) in unused {
            text.push_str(&format!("  {} ({}): {reason}\n", site.name, site.kind));
        }
    }
    if !answer.meets_need() {
        text.push_str(&shortfall(answer, shown));
    }
    text
}

fn row(option: &PlanOption, shown: Shown) -> [String; 8] {
    // Tankers of several classes drive the same site on loops of their own; people think in sites.
    let mut by_site: Vec<(&str, Vec<&str>)> = Vec::new();
    for found in &option.loops {
        let tankers = found.tankers.iter().map(String::as_str);
        match by_site.iter_mut().find(|(site, _)| *site == found.site) {
            Some((_, members)) => members.extend(tankers),
            None => by_site.push((&found.site, tankers.collect())),
        }
    }
    let sites: Vec<String> =
        by_site.iter().map(|(site, members)| format!("{site} ({})", members.join(", "))).collect();
    let mut kinds: Vec<LoopKind> = option.loops.iter().map(|l| l.kind).collect();
    kinds.sort_unstable();
    kinds.dedup();
    let kinds: String = kinds
        .iter()
        .filter(|kind| **kind != LoopKind::Quickest)
        .map(|kind| format!(", {}", kind.as_str().replace('_', " ")))
        .collect();
    let figures = match &option.simulated {
        Some(Simulated { sustained, one_lost, .. }) => [
            shown.flow(sustained.flow),
            if option.meets_need { "met".into() } else { "not met".into() },
            shown.duration(sustained.first_water),
            shown.duration(sustained.held_from),
            shown.flow(*one_lost),
        ],
        None => {
            let verdict = if option.meets_need { "may be met" } else { "not met" };
            let [flow, unknown] = [format!("at most {}", shown.flow(option.ceiling)), "?".into()];
            [flow, verdict.into(), unknown.clone(), unknown.clone(), unknown]
        }
    };
    let [sustained, need, first_water, held_from, one_lost] = figures;
    [
        option.number.to_string(),
        sustained,
        need,
        first_water,
        held_from,
        one_lost,
        format!("{}, {} of hose{kinds}", option.dump_road, shown.distance(option.lay.length),),
        sites.join(" + "),
    ]
}

/// Bridges that no sign rates, those of unknown weight first; options with the same ones together.
fn bridges(options: &[PlanOption], shown: Shown) -> String {
    let bridge = |b: &CrossedBridge| {
        let road = if b.road.is_empty() { "unnamed road" } else { &b.road };
        let known = match &b.weight {
            Weight::Known(known) => {
                format!(", known to carry {}: {}", shown.mass(known.limit, false), known.said)
            }
            Weight::Unknown => String::new(),
        };
        format!("{road} (way {}) by {} with {}{known}", b.way, b.tanker, shown.mass(b.mass, true))
    };
    let mut text = String::new();
    for (known, what) in [(false, "nobody has rated, ask their owners"), (true, "rated by an overlay")] {
        let mut groups: Vec<(String, Vec<String>)> = Vec::new();
        for option in options {
            let of_kind = option.bridges.iter().filter(|b| matches!(b.weight, Weight::Known(_)) == known);
            let told = of_kind.map(bridge).collect::<Vec<_>>().join("; ");
            match groups.iter_mut().find(|(same, _)| *same == told) {
                _ if told.is_empty() => {}
                Some((_, numbers)) => numbers.push(option.number.to_string()),
                None => groups.push((told, vec![option.number.to_string()])),
            }
        }
        if !groups.is_empty() {
            text.push_str(&format!("\nbridges {what}, with the heaviest to cross them:\n"));
        }
        for (told, numbers) in groups {
            text.push_str(&format!("  option {}: {told}\n", numbers.join(", ")));
        }
    }
    text
}

/// Nothing where all options dump at one place.
fn trade_offs(options: &[PlanOption], shown: Shown) -> String {
    let told = options.iter().filter_map(|option| {
        let text = option.trade_off.as_ref()?.text(shown);
        Some(format!("  option {}: {text}\n", option.number))
    });
    let told: String = told.collect();
    if told.is_empty() { told } else { format!("\nbeside the dump site nearest to the fire:\n{told}") }
}

/// What is missing, in one line.
fn shortfall(answer: &Answer, shown: Shown) -> String {
    match answer.options.first() {
        None => String::new(),
        Some(best) => format!(
            "\nno option meets the need: the best sustains {}{}, {} short{}\n",
            if best.simulated.is_some() { "" } else { "at most " },
            shown.flow(best.flow()),
            shown.flow(answer.need - best.flow()),
            best.simulated.as_ref().map_or(String::new(), |found| format!("; {}", found.limitation.text))
        ),
    }
}
