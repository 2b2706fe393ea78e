//! The water-supply officer's page: the map, the numbers, what happens when, who drives where, what to call for.

use crate::output::sheet::map;
use crate::output::sheet::said::{Call, PlanOption};
use crate::output::sheet::words::{Units, blanks, facts, name, prose, sentence, table};
use crate::output::sheet::{Paper, Sheet, sites};

/// The map's height as a share of its width, at least, and at most on US Letter and on the longer A4.
const FLAT: f64 = 0.36;
const TALL: [f64; 2] = [0.46, 0.54];
/// What a line of text below the map takes of it.
const OF_A_LINE: f64 = 0.025;

pub fn card(sheet: &Sheet) -> String {
    let Sheet { said, option, units, .. } = sheet;
    let (about, dump) = (&said.about, &option.dump);
    let verdict = match (dump.sustained_flow_gpm, dump.meets_need) {
        (None, _) => "AT MOST; not simulated",
        (_, true) => "✓ MEETS THE NEED",
        (_, false) => "✗ SHORT OF THE NEED",
    };
    let big = format!(
        "<p class=\"flow\" data-key=\"sustained_flow_gpm\">{}</p><p class=\"verdict\">{verdict}</p><p>needed: <span \
         data-key=\"needed_flow_gpm\">{}</span></p>",
        units.flow(dump.flow_gpm()),
        units.flow(about.needed_flow_gpm)
    );
    let wide = sheet.paper.wide_pt();
    let map = map::draw(sheet, &option.rounds, wide, high(sheet, wide));
    let at = said.incident_at;
    let cautions: Vec<String> = about.cautions.iter().map(|c| prose(c)).collect();
    format!(
        "<section class=\"sheet officer\" aria-labelledby=\"officer\">{}{map}{LEGEND}<div class=\"halves\"><div><h2>Numbers</h2>{}\
         </div><div><h2>From dispatch</h2>{}{}</div></div><h2>Loops</h2>{}{}<p class=\"cautions\">{} Fire \
         at {:.5}, {:.5} (latitude, longitude). {} tankerloop {}.</p></section>",
        sheet.first_head("officer", "Water-supply officer", &big),
        numbers(option, *units),
        timeline(sheet),
        call(about.call.as_ref(), *units),
        loops(option, *units),
        blanks(&["Radio, water supply", "Fill site officer", "Dump site officer", "Traffic"]),
        cautions.join(" "),
        at.lat(),
        at.lon(),
        prose(&about.attribution),
        prose(&about.version)
    )
}

const LEGEND: &str = "<p class=\"legend\"><svg viewBox=\"0 0 44 12\" aria-hidden=\"true\"><path class=\"loaded\" \
     d=\"M1 6H43\"/><path class=\"arrow-loaded\" d=\"M-5.5 -5.2L7 0L-5.5 5.2L-2.8 0Z\" transform=\"translate(22 6)\"/></svg> \
     loaded <svg viewBox=\"0 0 44 12\" aria-hidden=\"true\"><path class=\"empty\" d=\"M1 6H43\"/><path class=\"arrow-empty\" \
     d=\"M-5.5 -5.2L7 0L-5.5 5.2L-2.8 0Z\" transform=\"translate(22 6)\"/></svg> empty <svg viewBox=\"0 0 44 12\" \
     aria-hidden=\"true\"><path class=\"hose\" d=\"M2 6H43\"/></svg> hose. <b>D</b> dump, <b>F</b> fill, \
     <b>W</b> tankers wait, <b>!</b> fire. Degrees from true north.</p>";

/// The more there is to say below it, the flatter.
fn high(sheet: &Sheet, wide: f64) -> f64 {
    let all = map::places(sheet.said, sheet.option);
    let Some(bounds) = crate::place::Bounds::around(all) else { return wide * FLAT };
    let (across, up) = bounds.east_north.offset_from(bounds.west_south);
    let crew = sheet.option.rounds.iter().map(|round| round.said.crew.len()).sum::<usize>();
    let called = sheet.said.about.call.as_ref().map_or(0, |call| 2 + call.vehicles.len());
    let more = (crew + sheet.option.rounds.len() + called).saturating_sub(8) as f64;
    let tall = TALL[usize::from(sheet.paper == Paper::A4)];
    wide * (up / across.max(1.0)).clamp(FLAT, tall - OF_A_LINE * more.min(5.0))
}

fn numbers(option: &PlanOption, units: Units) -> String {
    let d = &option.dump;
    let held = [
        (250.0, d.held_250_gpm_from_s),
        (500.0, d.held_500_gpm_from_s),
        (750.0, d.held_750_gpm_from_s),
        (1000.0, d.held_1000_gpm_from_s),
    ];
    let held: Vec<String> = held
        .iter()
        .filter_map(|(gpm, from)| Some(format!("{} from {}", units.flow(*gpm), units.time((*from)?))))
        .collect();
    let limiter = d.limiter.as_ref().map(|limiter| {
        let gain = units.flow(d.limiter_gain_gpm.unwrap_or_default());
        format!("{}; relief gains {gain}", prose(limiter))
    });
    let rise = option.supply.as_ref().map(|(line, _)| {
        let hose = format!("{} × {} hose", line.lines, units.bore(line.hose_in));
        let rise =
            line.rise_ft.map_or(", rise unknown".into(), |feet| format!(", rise {}", units.rise(feet)));
        format!(
            "{} of {hose}{rise}; carries {}",
            units.length(d.supply_line_m),
            units.flow(d.supply_line_flow_gpm)
        )
    });
    facts(&[
        ("Ceiling", Some(units.flow(d.ceiling_flow_gpm)), "ceiling_flow_gpm"),
        ("One tanker lost", d.one_tanker_lost_flow_gpm.map(|f| units.flow(f)), "one_tanker_lost_flow_gpm"),
        ("Held", (!held.is_empty()).then(|| held.join(", ")), "held"),
        ("Held back by", limiter, "limiter"),
        ("Supply line", rise, "supply_line_m"),
        (
            "With relay",
            d.flow_with_relay_gpm.map(|f| format!("{} pumpers: {}", d.relay_pumpers, units.flow(f))),
            "flow_with_relay_gpm",
        ),
        ("Dump rig", option.rig.as_ref().map(|rig| sites::rig_line(rig, units)), "rig"),
    ])
}

/// What happens when, with room for when it did.
fn timeline(sheet: &Sheet) -> String {
    let Sheet { option, units, .. } = sheet;
    let d = &option.dump;
    let mut events: Vec<(f64, String)> = Vec::new();
    let mut loads: Vec<(f64, Vec<String>)> = Vec::new();
    for member in option.rounds.iter().flat_map(|round| &round.said.crew) {
        let at = member.first_load_s;
        match loads.iter_mut().find(|(known, _)| *known == at) {
            Some((_, ids)) => ids.push(name(&member.id)),
            None => loads.push((at, vec![name(&member.id)])),
        }
    }
    events.extend(loads.into_iter().map(|(at, ids)| (at, format!("{}, first load", ids.join(", ")))));
    let mut add = |at: Option<f64>, words: &str| {
        events.extend(at.map(|at| (at, format!("<b>{words}</b>"))));
    };
    add(d.first_water_s, "first water");
    let held = if d.meets_need { "need held" } else { "its flow held" };
    add(d.sustained_from_s, held);
    events.sort_by(|a, b| a.0.total_cmp(&b.0));
    let rows = events.into_iter().map(|(at, what)| vec![units.clock(at), what, String::new()]);
    table("times", &["minutes", "what", "actual"], rows)
}

fn loops(option: &PlanOption, units: Units) -> String {
    let rows = option.rounds.iter().map(|round| {
        let leg = |d: &super::said::Driven| {
            format!("{}, {}", units.distance(d.said.distance_m), units.time(d.said.travel_s))
        };
        let ids: Vec<String> = round.said.crew.iter().map(|member| name(&member.id)).collect();
        vec![
            format!("<b>{}</b> {}", map_letter(option, &round.said.fill_site), name(&round.said.fill_site)),
            ids.join(", "),
            leg(&round.loaded),
            leg(&round.empty),
            units.time(round.said.cycle_s),
        ]
    });
    table("loops", &["fill site", "tankers", "loaded", "empty", "cycle"], rows)
}

fn map_letter(option: &PlanOption, site: &str) -> String {
    super::marks::letter(option, site)
}

fn call(call: Option<&Call>, units: Units) -> String {
    let Some(call) = call else {
        return "<h2>Call for</h2><p>Nothing: an option meets the need with what comes by itself.</p>".into();
    };
    let mut said: Vec<String> = match call.sustained_flow_gpm {
        None => vec!["Mutual aid: none is listed, or all of it does not meet the need.".into()],
        Some(flow) => {
            let each = call.vehicles.iter().map(|v| {
                format!(
                    "<b>{}</b> ({}): {}, there after {}",
                    name(&v.id),
                    prose(&v.kind),
                    name(&v.call),
                    units.time(v.arrives_s)
                )
            });
            let enough = if call.meets_need { "" } else { ", still less than the need" };
            each.chain([format!("With them {}{enough}.", units.flow(flow))]).collect()
        }
    };
    if let Some(more) = call.more_tankers {
        let like = call.more_tankers_like.as_deref().map_or("the largest".into(), name);
        said.push(format!("Or {more} more tankers like {like}."));
    }
    if let Some(source) = &call.new_source {
        said.push(format!(
            "Or a new source of {} with {} berths, at most {} from the dump site.",
            units.flow(source.flow_gpm),
            source.berths,
            units.time(source.longest_leg_s)
        ));
    }
    if let Some(part) = &call.held_by {
        let part = part.replace(['-', '_'], " ");
        said.push(sentence(&format!(
            "no tanker and no source helps while the {part} carries less than the need"
        )));
    }
    let list: String = said.iter().map(|line| format!("<li>{line}</li>")).collect();
    format!("<h2>Call for</h2><ul class=\"call\">{list}</ul>")
}
