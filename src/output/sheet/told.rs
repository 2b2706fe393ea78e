//! The back of the officer's page: what was assumed, what was found, and the other options.

use crate::output::sheet::Sheet;
use crate::output::sheet::said::Finding;
use crate::output::sheet::words::{facts, name, prose, sentence, table};
use crate::place::Place;
use crate::units::Shown;

pub fn card(sheet: &Sheet) -> String {
    let head = sheet.head("told", "Water-supply officer, back", "Assumed and found", "");
    format!(
        "<section class=\"sheet told\" aria-labelledby=\"told\">{head}{}<h3>Assumed</h3><ul class=\"assumed\">{}</ul>{}<h3>Found\
         </h3>{}</section>",
        trouble(sheet),
        assumed(sheet),
        others(sheet),
        findings(sheet)
    )
}

/// What is left when something fails.
fn trouble(sheet: &Sheet) -> String {
    let (d, units) = (&sheet.option.dump, sheet.units);
    let lost = d.tanker_lost.as_ref().map(|all| {
        let each = all.iter().map(|lost| format!("{} {}", name(&lost.id), units.flow(lost.flow_gpm)));
        each.collect::<Vec<_>>().join("; ")
    });
    let failed = d.source_failed.as_ref().map(|all| {
        let each = all.iter().map(|failed| {
            let moved = match failed.moved_flow_gpm {
                Some(flow) => {
                    let to: Vec<String> = failed.moved_to.iter().map(|site| name(site)).collect();
                    format!("{} with the tankers sent to {}", units.flow(flow), to.join(" + "))
                }
                None => "no other site is within reach".into(),
            };
            format!(
                "{}: {} from the rest, {moved}",
                name(&failed.fill_site),
                units.flow(failed.rest_flow_gpm)
            )
        });
        each.collect::<Vec<_>>().join("; ")
    });
    let told = [
        ("One tanker lost", lost, "tanker_lost"),
        ("A source failed", failed, "source_failed"),
        ("Fewest tankers for the need", d.fewest_tankers.as_deref().map(prose), "fewest_tankers"),
    ];
    match told.iter().all(|(_, value, _)| value.is_none()) {
        true => String::new(),
        false => format!("<h3>If something fails</h3>{}", facts(&told)),
    }
}

fn assumed(sheet: &Sheet) -> String {
    let (about, d) = (&sheet.said.about, &sheet.option.dump);
    let units = sheet.units;
    let mut lines = vec![
        format!(
            "The flow is held for {} after its start with {:.0} % reliability.",
            units.time(about.period_s),
            100.0 * about.reliability
        ),
        match (d.replications, d.seed) {
            (Some(runs), Some(seed)) => {
                format!("Simulated {runs} times, seed {seed}; times vary as crews' do.")
            }
            _ => "<b>Nothing was simulated: the flow is a ceiling, and waiting takes from it.</b>".into(),
        },
    ];
    lines.push(match about.needed_flow_by.as_str() {
        "given" => "The needed flow was given.".into(),
        by => format!("The needed flow was found by {}.", prose(by)),
    });
    for method in about.needed_flow_methods.iter().filter(|method| method.used) {
        lines.extend(method.assumed.iter().map(|text| format!("{}: {}.", prose(&method.name), prose(text))));
    }
    for (site, _) in &sheet.said.sites {
        if sheet.option.rounds.iter().any(|round| round.said.fill_site == site.name) {
            let told = site.told.as_deref().unwrap_or("not rated");
            lines.push(format!("<b>{}</b>: {}.", name(&site.name), prose(told)));
        }
    }
    if let Some(waits) = &d.wait_lanes {
        lines.push(format!("Waiting on narrow road: {}.", prose(waits)));
    }
    let beside = match units.0 {
        Shown::Us => &d.trade_off,
        Shown::Metric => &d.trade_off_metric,
    };
    if let Some(text) = beside {
        lines.push(format!("Beside the nearest dump site: {}.", prose(text)));
    }
    if let Some(note) = sheet.ground.and_then(|ground| ground.note.as_ref()) {
        lines.push(format!("The map: {}.", prose(note)));
    }
    lines.iter().map(|line| format!("<li>{line}</li>")).collect()
}

fn others(sheet: &Sheet) -> String {
    let units = sheet.units;
    let number = sheet.option.dump.option;
    let rows: Vec<Vec<String>> = sheet
        .said
        .options
        .iter()
        .filter(|option| option.dump.option != number)
        .map(|option| {
            let d = &option.dump;
            let mut sites: Vec<String> = option.rounds.iter().map(|r| name(&r.said.fill_site)).collect();
            sites.dedup();
            vec![
                d.option.to_string(),
                units.flow(d.flow_gpm()),
                if d.meets_need { "met".into() } else { "short".into() },
                d.sustained_from_s.map_or("—".into(), |t| units.time(t)),
                format!("{}, {} of hose", name(&d.road), units.length(d.supply_line_m)),
                sites.join(" + "),
            ]
        })
        .collect();
    if rows.is_empty() {
        return String::new();
    }
    let heads = ["option", "flow", "need", "held from", "dump site", "fill sites"];
    format!("<h3>Other options</h3>{}", table("others", &heads, rows))
}

/// The grave ones first. What was noted of other options only is counted, not shown.
fn findings(sheet: &Sheet) -> String {
    let rank = |finding: &Finding| match finding.severity.as_str() {
        "error" => 0,
        "caution" => 1,
        _ => 2,
    };
    let noted = |option: &super::said::PlanOption, f: &Finding| {
        let there = |at: &Place| f.place.at == Some([at.lon(), at.lat()]);
        option
            .notes
            .iter()
            .any(|(n, at)| n.code == f.code && n.cause == f.cause && n.road == f.place.name && there(at))
    };
    let elsewhere =
        |f: &&Finding| !noted(sheet.option, f) && sheet.said.options.iter().any(|option| noted(option, f));
    let all = &sheet.said.about.findings;
    let mut shown: Vec<&Finding> = all.iter().filter(|f| !elsewhere(f)).collect();
    shown.sort_by_key(|f| rank(f));
    let rows = shown.iter().map(|f| {
        let row = f.place.row.map_or(String::new(), |row| format!(" row {row}"));
        let file = f.place.file.as_deref().map(|file| file.rsplit(['/', '\\']).next().unwrap_or(file));
        let place: Vec<String> = f
            .place
            .name
            .as_deref()
            .map(name)
            .into_iter()
            .chain(file.map(|file| format!("<span class=\"small\">{}{row}</span>", prose(file))))
            .collect();
        vec![
            format!("{}<br><span class=\"small\">{}</span>", prose(&f.severity), prose(&f.code)),
            place.join("<br>"),
            format!("{}. <b>{}.</b>", sentence(&f.cause), sentence(&f.action)),
        ]
    });
    let table = table("findings", &["kind", "where", "what is so, and what to do"], rows);
    match all.len() - shown.len() {
        0 => table,
        more => format!("<p>{more} more are of other options only; the answer has them.</p>{table}"),
    }
}
