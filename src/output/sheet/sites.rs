//! The cards of the fill sites and of the dump site.

use crate::output::export::text::short;
use crate::output::sheet::said::{FillSite, Rig, RigTold};
use crate::output::sheet::words::{Units, blanks, drawn, facts, name, prose, sentence, table};
use crate::output::sheet::{Sheet, marks};
use crate::place::Place;
use crate::units::Shown;

/// Empty rows in which a site writes down who came when: what a drill is fitted from.
const LOG_ROWS: usize = 10;

/// One card for each fill site of the option, with what its pages are called.
pub fn fills(sheet: &Sheet) -> Vec<(String, String)> {
    let mut names: Vec<&str> = Vec::new();
    for round in &sheet.option.rounds {
        if !names.contains(&round.said.fill_site.as_str()) {
            names.push(&round.said.fill_site);
        }
    }
    let site = |name: &str| sheet.said.sites.iter().find(|(site, _)| site.name == name);
    let known = names.into_iter().filter_map(site);
    let card = |(i, (site, at)): (usize, &(FillSite, Place))| {
        let called = format!("Fill site {}", short(&site.name));
        (called, fill(sheet, i + 1, site, *at))
    };
    known.enumerate().map(card).collect()
}

fn fill(sheet: &Sheet, number: usize, site: &FillSite, at: Place) -> String {
    let Sheet { option, units, said, .. } = sheet;
    let rounds: Vec<_> = option.rounds.iter().filter(|round| round.said.fill_site == site.name).collect();
    let berths = rounds.first().and_then(|round| round.said.fill_berths).unwrap_or(1);
    let big = format!(
        "<p class=\"flow\">{}</p><p>{}</p>",
        site.flow_gpm.map_or("flow unknown".into(), |f| units.flow(f)),
        if berths == 1 { "one tanker at a time".into() } else { format!("{berths} tankers at a time") }
    );
    let id = format!("fill-{number}");
    let what = format!("{} {}", marks::letter(option, &site.name), name(&site.name));
    let text = |text: &str| (!text.is_empty()).then(|| sentence(text));
    let waits = rounds.iter().filter_map(|round| round.said.wait_fill_s).reduce(f64::max);
    let rows = facts(&[
        ("Source", Some(prose(&site.kind.replace('-', " "))), "kind"),
        ("Note", text(&site.note), "note"),
        ("Rated by", site.told.as_deref().map(sentence), "told"),
        ("Water there", site.volume_gal.map(|v| units.volume(v)), "volume_gal"),
        ("Lasts, at its flow", site.lasts_s.map(|t| units.time(t)), "lasts_s"),
        ("Shared", site.shares.as_deref().map(sentence), "shares"),
        ("Mean wait to fill", waits.map(|wait| units.time(wait)), "wait_fill_s"),
        ("Place", Some(format!("{:.5}, {:.5} (latitude, longitude)", at.lat(), at.lon())), "place"),
        ("Tested", (!site.verified).then(|| "<b>Never: it comes from map tags</b>".into()), "verified"),
    ]);
    let crews = rounds.iter().flat_map(|round| {
        let member = |m: &super::said::Member| {
            let tanker = sheet.tanker(&m.id);
            let of = |value: Option<String>| value.unwrap_or_else(|| "?".into());
            vec![
                name(&m.id),
                of(tanker.map(|t| units.volume(t.tank_gal))),
                of(tanker.map(|t| units.load(t.mass_full_kg))),
                units.time(round.said.cycle_s),
            ]
        };
        round.said.crew.iter().map(member)
    });
    let crews = table("crews", &["tanker", "tank", "leaves at", "comes every"], crews);
    let approaches = rounds.iter().map(|round| {
        let ids: Vec<String> = round.said.crew.iter().map(|m| name(&m.id)).collect();
        format!("<li><b>{}</b>: {}.</li>", ids.join(", "), prose(&round.said.fill_approach))
    });
    let findings = said.about.findings.iter().filter(|f| f.place.name.as_deref() == Some(site.name.as_str()));
    let findings: Vec<String> = findings
        .map(|f| format!("<li>{}. <b>{}.</b></li>", sentence(&f.cause), sentence(&f.action)))
        .collect();
    let findings = match findings.is_empty() {
        true => String::new(),
        false => format!("<h3>Look at first</h3><ul>{}</ul>", findings.concat()),
    };
    format!(
        "<section class=\"sheet site\" aria-labelledby=\"{id}\">{}{rows}<h3>Tankers</h3>{crews}<h3>Approach</h3><ul>{}</ul>\
         {findings}{}{}{}</section>",
        sheet.head(&id, "Fill site", &what, &big),
        approaches.collect::<String>(),
        blanks(&["Radio channel", "Officer", "Spotter", "Pump operator"]),
        log("filled", LOG_ROWS),
        sheet.foot()
    )
}

/// To be filled in by hand.
fn log(done: &str, rows: usize) -> String {
    let row =
        |number: usize| vec![number.to_string(), String::new(), String::new(), String::new(), String::new()];
    let heads = ["no.", "tanker", "came", done, "gallons or fraction"];
    format!("<h3>Log</h3>{}", table("log", &heads, (1..=rows).map(row)))
}

fn told(rig: &Rig, units: Units) -> &RigTold {
    match units.0 {
        Shown::Us => &rig.us,
        Shown::Metric => &rig.metric,
    }
}

/// The rig in a line.
pub fn rig_line(rig: &Rig, units: Units) -> String {
    let line = told(rig, units).head.lines().next().unwrap_or_default();
    format!("{} Drawn on the dump site's card.", sentence(line))
}

pub fn dump(sheet: &Sheet) -> String {
    let Sheet { option, units, said, .. } = sheet;
    let d = &option.dump;
    let big = format!(
        "<p class=\"flow\">{}</p><p>{}</p>",
        units.volume(d.tank_room_gal),
        if d.dump_berths == 1 {
            "one tanker dumps at a time".into()
        } else {
            format!("{} tankers dump at a time", d.dump_berths)
        }
    );
    let what = format!("D {}", name(&d.road));
    let wide = d
        .road_width_m
        .map_or("road of unmapped width".into(), |w| format!("road {} wide", units.clearance(w)));
    let waits = d.wait_dump_s.map(|wait| {
        let full = d.wait_full_tanks_s.unwrap_or_default();
        format!("{}, and {} at full tanks", units.time(wait), units.time(full))
    });
    let staging = option.staging.as_ref().map(|(staging, _)| {
        format!(
            "up to {} tankers on {}, {} before the dump site",
            staging.tankers,
            name(&staging.road),
            units.distance(staging.before_dump_m)
        )
    });
    let rows = facts(&[
        (
            "Room for tanks",
            Some(format!(
                "{}: row of {}, straight road {}, {wide}",
                prose(&d.space),
                units.length(d.tank_row_length_m),
                units.length(d.straight_road_m)
            )),
            "space",
        ),
        ("Tankers wait", staging, "staging"),
        ("Mean wait to dump", waits, "wait_dump_s"),
        (
            "Place",
            Some(format!("{:.5}, {:.5} (latitude, longitude)", option.at.lat(), option.at.lon())),
            "place",
        ),
    ]);
    let approaches = option.rounds.iter().map(|round| {
        let ids: Vec<String> = round.said.crew.iter().map(|m| name(&m.id)).collect();
        format!("<li><b>{}</b>: {}.</li>", ids.join(", "), prose(&round.said.dump_approach))
    });
    let notes = option.notes.iter().filter(|(note, _)| note.code.starts_with("dump-space"));
    let notes =
        notes.map(|(n, _)| format!("<li>{}. <b>{}.</b></li>", sentence(&n.cause), sentence(&n.action)));
    let items = approaches.chain(notes).collect::<String>();
    let cautions: String =
        said.about.rig_cautions.iter().skip(1).map(|c| format!("<li>{}</li>", prose(c))).collect();
    format!(
        "<section class=\"sheet site dump\" aria-labelledby=\"dump\">{}{rows}<h3>Approach and room</h3><ul>{items}</ul>{}{}\
         <h3>Cautions</h3><ul class=\"cautions\">{cautions}</ul>{}{}</section>",
        sheet.head("dump", "Dump site", &what, &big),
        blanks(&["Radio channel", "Officer", "Spotter", "Pump operator"]),
        option.rig.as_ref().map_or(
            "<p>The fleet's parts make no dump rig: see the findings.</p>".into(),
            |r| rig(sheet, told(r, *units))
        ),
        log("dumped", LOG_ROWS / 2),
        sheet.foot()
    )
}

/// Width of a character of the drawing as a share of its size (most fonts of equal widths have 0.6).
const CHARACTER: f64 = 0.61;
const LARGEST_PT: f64 = 11.0;

fn rig(sheet: &Sheet, told: &RigTold) -> String {
    let across = told.drawing.lines().map(|line| line.chars().count()).max().unwrap_or(1).max(1);
    let size = (sheet.paper.wide_pt() / (across as f64 * CHARACTER)).min(LARGEST_PT);
    let stages: String = told
        .stages
        .iter()
        .map(|stage| format!("<li>{} <b>→ {}</b></li>", sentence(&stage.action), prose(&stage.gives)))
        .collect();
    let heads: Vec<String> = told.valves.first().into_iter().flatten().map(|head| prose(head)).collect();
    let heads: Vec<&str> = heads.iter().map(String::as_str).collect();
    let rows = told.valves.iter().skip(1).map(|row| row.iter().map(|cell| prose(cell)).collect());
    let list = |lines: &[String]| {
        lines.iter().map(|line| format!("<li>{}.</li>", sentence(line))).collect::<String>()
    };
    format!(
        "<h3>Dump rig, not to scale</h3><p class=\"rig-head\">{}</p><pre class=\"rig\" tabindex=\"0\" role=\"img\" aria-label=\"The site from \
         above: hose side, pumper, tanks with siphons, clear lane. How it is built is told below.\" \
         style=\"font-size:{size:.1}pt\">{}</pre><p class=\"legend\">{}. {}.</p><h3>Build it as they come</h3><ol \
         class=\"stages\">{stages}</ol><h3>Valves to open as the flow grows</h3>{}<ul>{}{}</ul>",
        told.head.lines().map(prose).collect::<Vec<_>>().join("<br>"),
        drawn(&told.drawing),
        drawn(&told.legend),
        sentence(&told.tanks),
        table("valves", &heads, rows),
        list(&told.valve_notes),
        list(&told.notes)
    )
}
