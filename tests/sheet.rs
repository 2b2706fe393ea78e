//! `tankerloop sheet`: what the cards say is what the answer says, names from files do no harm, and what is no
//! answer is refused. How it looks on paper is tested under tests/browser.

#[path = "support/run.rs"]
mod run;

use run::{Ran, county, folder, layer, number, of_option, repository, tankerloop, with_env};
use serde_json::Value;
use std::collections::BTreeSet;
use std::fs::read_to_string;
use std::path::{Path, PathBuf};

fn text(path: &Path) -> &str {
    path.to_str().expect("the path is UTF-8")
}

fn planned(scenario: &Path, folder: &Path) -> (PathBuf, Value) {
    let answer = folder.join("answer.geojson");
    let ran = tankerloop(&["plan", text(scenario), "--quiet", "--replications=40", "-o", text(&answer)]);
    assert!(ran.code < 2, "{}", ran.err);
    let read = serde_json::from_str(&read_to_string(&answer).unwrap()).unwrap();
    (answer, read)
}

fn sheet(answer: &Path, more: &[&str]) -> String {
    let to = answer.with_extension("html");
    let ran = tankerloop(&[&["sheet", text(answer), "-o", text(&to)], more].concat());
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(ran.err.contains("planning aid") && ran.err.contains("OpenStreetMap"), "{}", ran.err);
    read_to_string(to).unwrap()
}

/// The words of some HTML.
fn words(html: &str) -> String {
    let mut out = String::new();
    for part in html.split('<') {
        out.push_str(part.split_once('>').map_or(part, |(_, after)| after));
    }
    let mut out = out.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&#39;", "'");
    out = out.replace("&amp;", "&");
    out
}

/// What stands between two marks, each time.
fn all<'a>(html: &'a str, from: &str, to: &str) -> Vec<&'a str> {
    html.split(from).skip(1).filter_map(|rest| Some(rest.split_once(to)?.0)).collect()
}

fn keyed(html: &str, key: &str) -> String {
    let found = all(html, &format!("data-key=\"{key}\">"), "</");
    words(found.first().unwrap_or_else(|| panic!("no {key}")))
}

fn cards<'a>(html: &'a str, class: &str) -> Vec<&'a str> {
    all(html, &format!("<section class=\"sheet {class}"), "</section>")
}

/// NIST Handbook 44, appendix C.
const LITRES_PER_GALLON: f64 = 3.785411784;
const KG_PER_SHORT_TON: f64 = 907.18474;

#[test]
fn the_numbers_are_those_of_the_answer() {
    let out = folder("sheet-numbers");
    let (file, answer) = planned(&repository("data/county/scenario.toml"), &out);
    for option in layer(&answer, "dump_site") {
        let n = option["option"].as_u64().unwrap();
        let us = sheet(&file, &[&format!("--option={n}")]);
        for key in ["sustained_flow_gpm", "needed_flow_gpm", "ceiling_flow_gpm", "one_tanker_lost_flow_gpm"] {
            assert_eq!(keyed(&us, key), format!("{:.0} gpm", number(option, key)), "option {n}");
        }
        assert!(keyed(&us, "limiter").starts_with(option["limiter"].as_str().unwrap()));
        if let Some(lost) = option["tanker_lost"].as_array() {
            let told: Vec<String> = lost
                .iter()
                .map(|l| format!("{} {:.0} gpm", l["id"].as_str().unwrap(), number(l, "flow_gpm")))
                .collect();
            let cell = all(&us, "data-key=\"tanker_lost\">", "</td>")[0];
            assert_eq!(words(cell), told.join("; "));
        }
        let feet = number(option, "supply_line_m") / 0.3048;
        assert!(keyed(&us, "supply_line_m").starts_with(&format!("{feet:.0} ft of ")));
        let clock = |s: f64| format!("{}:{:02}", s.round() as u64 / 60, s.round() as u64 % 60);
        let times = words(all(&us, "<table class=\"times\">", "</table>")[0]);
        for key in ["first_water_s", "sustained_from_s"] {
            assert!(times.contains(&clock(number(option, key))), "{key} in {times}");
        }
        let metric = sheet(&file, &[&format!("--option={n}"), "--units=metric", "--paper=a4"]);
        let litres = number(option, "sustained_flow_gpm") * LITRES_PER_GALLON;
        assert_eq!(keyed(&metric, "sustained_flow_gpm"), format!("{litres:.0} L/min"));
        assert!(us.contains("@page { size: letter;") && metric.contains("@page { size: A4;"));
        // Every fill site of the option has its card with its flow, every tanker its own.
        let loops = of_option(&answer, "loop", n);
        let sites: BTreeSet<&str> = loops.iter().map(|l| l["fill_site"].as_str().unwrap()).collect();
        let fills: Vec<String> =
            all(&us, "<p class=\"role\">Fill site</p>", "</section>").iter().map(|c| words(c)).collect();
        assert_eq!(fills.len(), sites.len());
        for site in sites {
            let flow = layer(&answer, "fill_site").into_iter().find(|f| f["name"] == site).unwrap();
            let flow = format!("{:.0} gpm", number(flow, "flow_gpm"));
            assert!(fills.iter().any(|card| card.contains(site) && card.contains(&flow)), "{site}");
        }
        let crews: u64 = loops.iter().map(|l| l["tankers"].as_u64().unwrap()).sum();
        assert_eq!(cards(&us, "driver").len() as u64, crews);
        let rig = &answer["tankerloop"]["rigs"][n as usize - 1]["us"];
        let drawing = words(all(&us, "<pre", "</pre>")[0].split_once('>').unwrap().1);
        assert_eq!(drawing, rig["drawing"].as_str().unwrap().trim_end_matches('\n'));
        for stage in rig["stages"].as_array().unwrap() {
            assert!(words(&us).contains(stage["gives"].as_str().unwrap()));
        }
    }
}

/// A leg as a card tells it: what to do, bearing, how far.
fn turns(card: &str, class: &str) -> Vec<(String, String, String)> {
    let list = all(card, &format!("<table class=\"turns {class}\">"), "</table>")[0];
    let row = |row: &&str| {
        let cell = |from: &str, to: &str| words(all(row, from, to)[0]).trim().to_string();
        (cell("class=\"do\">", "</th>"), cell("class=\"bearing\">", "</td>"), cell("class=\"far\">", "</td>"))
    };
    all(list, "<tr><td class=\"sign\">", "</tr>").iter().map(row).collect()
}

#[test]
fn every_turn_of_each_leg_is_there_in_order() {
    let out = folder("sheet-turns");
    let (file, answer) = planned(&repository("data/county/scenario.toml"), &out);
    for option in layer(&answer, "dump_site") {
        let n = option["option"].as_u64().unwrap();
        let html = sheet(&file, &[&format!("--option={n}"), "--units=metric"]);
        let mut drivers = cards(&html, "driver").into_iter();
        for found in of_option(&answer, "loop", n) {
            for member in found["crew"].as_array().unwrap() {
                let card = drivers.next().expect("a card for each tanker");
                assert_eq!(
                    words(all(card, "<h2", "</h2>")[0].split_once('>').unwrap().1),
                    member["id"].as_str().unwrap()
                );
                for (which, class) in [("loaded", "loaded-list"), ("empty", "empty-list")] {
                    let of = |leg: &&&Value| {
                        leg["leg"] == which
                            && leg["fill_site"] == found["fill_site"]
                            && leg["tanker_ids"] == found["tanker_ids"]
                    };
                    let legs = of_option(&answer, "leg", n);
                    let leg = legs.iter().find(of).unwrap();
                    let steps = leg["steps"].as_array().unwrap();
                    let told: Vec<_> = steps
                        .iter()
                        .map(|step| {
                            let said = step["instruction"].as_str().unwrap();
                            let bearing = format!(
                                "{} {:03}°",
                                step["heading"].as_str().unwrap(),
                                step["bearing_deg"].as_u64().unwrap()
                            );
                            let metres = number(step, "distance_m");
                            let far = match step["action"].as_str().unwrap() {
                                "arrive" => "—".to_string(),
                                _ if metres < 1000.0 => format!("{metres:.0} m"),
                                _ => format!("{:.2} km", metres / 1000.0),
                            };
                            (said[..1].to_uppercase() + &said[1..], bearing, far)
                        })
                        .collect();
                    assert_eq!(turns(card, class), told, "option {n}, {which}");
                }
            }
        }
        assert!(drivers.next().is_none());
    }
}

/// The county's bridge of 15 tons lies on the empty leg of the reservoir's loop (README), and its farm road and
/// landing are narrow. A short ton is 907.18474 kg: 15 of them are 13,607.8 kg.
#[test]
fn a_driver_has_the_signs_beside_the_truck() {
    let out = folder("sheet-signs");
    let (file, answer) = planned(&repository("data/county/scenario.toml"), &out);
    let legs = of_option(&answer, "leg", 1);
    let of = |which: &str| {
        legs.iter().find(|l| l["leg"] == which && l["fill_site"] == "Reservoir landing").unwrap()
    };
    let signs = of("empty")["posted"].as_array().unwrap();
    let bridge = signs.iter().find(|sign| sign["limit"] == "maxweight").expect("the bridge is posted");
    assert!((number(bridge, "mass_kg") - 15.0 * KG_PER_SHORT_TON).abs() < 0.1, "{bridge}");
    assert_eq!(
        of("loaded")["posted"].as_array().unwrap().iter().filter(|s| s["limit"] == "maxweight").count(),
        0
    );
    // Narrow road that a leg shares with the other is what the loop has of it.
    for found in of_option(&answer, "loop", 1) {
        for leg in legs.iter().filter(|l| l["tanker_ids"] == found["tanker_ids"]) {
            let stretches = leg["narrow"].as_array().unwrap().iter().filter(|s| s["both_ways"] == true);
            let metres: f64 = stretches.map(|s| number(s, "length_m")).sum();
            assert!((metres - number(found, "narrow_two_way_m")).abs() < 0.3, "{metres} m of {}", leg["leg"]);
        }
    }
    let html = sheet(&file, &[]);
    for tanker in answer["tankerloop"]["tankers"].as_array().unwrap() {
        let id = tanker["id"].as_str().unwrap();
        let title = format!("<bdi>{id}</bdi></h2>");
        let Some(card) = cards(&html, "driver").into_iter().find(|card| card.contains(&title)) else {
            continue;
        };
        let said = words(card);
        // A load is rounded up to tenths: it must not look lighter than it is.
        let tons = |key: &str| {
            format!("{:.1} tons", (number(tanker, key) / KG_PER_SHORT_TON * 10.0 - 1e-6).ceil() / 10.0)
        };
        for key in ["mass_full_kg", "mass_empty_kg", "axle_load_full_kg", "axle_load_empty_kg"] {
            assert!(said.contains(&tons(key)), "{id}: {key} {}", tons(key));
        }
        for leg in legs.iter().filter(|l| l["tanker_ids"].as_str().unwrap().split(", ").any(|i| i == id)) {
            for sign in leg["posted"].as_array().unwrap().iter().filter(|s| s["limit"] == "maxweight") {
                let limit = (number(sign, "mass_kg") / KG_PER_SHORT_TON * 10.0 + 1e-6).floor() / 10.0;
                let told = format!(
                    "WEIGHT LIMIT {limit:.1} tons posted on {}; you: {} full, {} empty",
                    sign["road"].as_str().unwrap(),
                    tons("mass_full_kg"),
                    tons("mass_empty_kg")
                );
                assert!(said.contains(&told), "{id}: {told}\n{said}");
            }
        }
        assert!(said.contains("Radio channel") && said.contains("Spotter"));
    }
}

const HOSTILE: [&str; 6] = [
    "</script><script>alert('site')</script>",
    "\"><img src=x onerror=alert('img')>",
    "</style></section><svg onload=alert(2)>",
    "\u{202e}gnidnal riovreseR\u{2066}",
    "'; } @import url(http://example.invalid); \\",
    "&lt;b&gt; & <!-- -->",
];

/// Sites, streets, tankers, scenario and fire with such names: the streets come by the answer, which is a file
/// too.
#[test]
fn hostile_names_are_words_and_nothing_else() {
    let out = county("sheet-hostile");
    let (file, answer) = planned(&out.join("scenario.toml"), &out);
    let long = format!("long {}", "x".repeat(10_000));
    let mut text = answer.to_string();
    let mut names: Vec<&str> = HOSTILE.to_vec();
    names.push(&long);
    let quoted = |name: &str| {
        let json = Value::from(name).to_string();
        json[1..json.len() - 1].to_string()
    };
    let known = [
        "Reservoir landing",
        "Clover Hill Road",
        "Iskatch Farm Road",
        "Braskisk hydrant",
        "Barn fire, farm road",
        "barn fire, hay and machinery",
        "Quarry Ferry Road",
    ];
    for (from, to) in known.iter().zip(&names) {
        assert!(text.contains(from), "{from}");
        text = text.replace(from, &quoted(to));
    }
    // A tanker of each kind of name, wherever its id stands alone.
    text = text
        .replace("\"T1\"", &format!("\"{}\"", quoted(&long)))
        .replace("\"T2\"", &format!("\"{}\"", quoted(HOSTILE[0])));
    text = text
        .replace("T1, ", &format!("{}, ", quoted(&long)))
        .replace("\"T2, ", &format!("\"{}, ", quoted(HOSTILE[0])));
    std::fs::write(&file, text).unwrap();
    let html = sheet(&file, &[]);

    assert!(!html.contains(['\u{202e}', '\u{2066}']), "the direction of the writing is turned");
    let mut tags = BTreeSet::new();
    let body = html.split_once("<body>").unwrap().1;
    for tag in body.split('<').skip(1) {
        let (inside, _) = tag.split_once('>').expect("a tag ends");
        let name: String =
            inside.trim_start_matches('/').chars().take_while(char::is_ascii_alphanumeric).collect();
        tags.insert(name);
        // Attributes are the sheet's own: none that runs, none that loads.
        for loud in [" on", " src=", "href=\"http", "url("] {
            assert!(!inside.contains(loud), "<{inside}>");
        }
    }
    let ours = [
        "b", "bdi", "body", "br", "circle", "div", "footer", "g", "h1", "h2", "h3", "header", "html", "li",
        "main", "ol", "p", "path", "pre", "rect", "section", "span", "svg", "table", "tbody", "td", "text",
        "th", "thead", "tr", "ul",
    ];
    let foreign: Vec<&String> = tags.iter().filter(|tag| !ours.contains(&tag.as_str())).collect();
    assert!(foreign.is_empty(), "{foreign:?}");
    // One style, which nothing ends or loads into.
    assert_eq!((html.matches("<style>").count(), html.matches("</style>").count()), (1, 1));
    let style = html.split("<style>").nth(1).and_then(|from| from.split("</style>").next()).unwrap();
    assert!(!style.contains("@import"), "a name is a rule of the style");
    assert!(html.contains("default-src 'none'"));
    // They are told, cut where they are endless.
    let said = words(body);
    for name in [HOSTILE[0], HOSTILE[1], HOSTILE[2], "gnidnal riovreseR"] {
        assert!(said.contains(name), "{name}");
    }
    assert!(said.split(char::is_whitespace).all(|word| word.chars().count() < 750), "an endless word");
}

fn refused(args: &[&str], words: &[&str]) -> Ran {
    let ran = tankerloop(&[&["sheet"], args].concat());
    assert_eq!(ran.code, 2, "{args:?}: {}", ran.err);
    for word in words {
        assert!(ran.err.contains(word), "{args:?}: {}", ran.err);
    }
    assert_eq!(ran.err.trim_end().lines().count(), 1, "{}", ran.err);
    ran
}

#[test]
fn what_is_no_answer_is_refused() {
    let out = county("sheet-refused");
    let (file, mut answer) = planned(&out.join("scenario.toml"), &out);
    let to = out.join("x.html");
    let of = |file: &Path, words: &[&str]| refused(&[text(file), "-o", text(&to)], words);
    let zone = out.join("zone.geojson");
    let scenario = out.join("scenario.toml");
    let args = ["zone", text(&scenario), "--longest", "2000", "--sample", "0", "--quiet", "-o", text(&zone)];
    assert!(tankerloop(&args).code < 2);
    of(&zone, &["it is a zone", "the plan of one incident"]);
    of(&out.join("fill-sites.geojson"), &["no member \"tankerloop\"", "tankerloop plan -o"]);
    of(&out.join("scenario.toml"), &["it is no JSON"]);
    of(&out.join("nowhere.geojson"), &["file-missing"]);
    refused(&[text(&file), "-o", text(&to), "--option", "9"], &["no option 9"]);
    refused(&[text(&file), "-o", "x.docx"], &["its ending names no format", ".html or .pdf"]);
    assert!(!to.exists(), "a refused command writes nothing");

    // Of a version that told less; a leg that is gone; a place that is none.
    let kept = answer.clone();
    let changed = out.join("changed.geojson");
    let write = |answer: &Value, words: &[&str]| {
        std::fs::write(&changed, answer.to_string()).unwrap();
        of(&changed, words);
    };
    answer["tankerloop"].as_object_mut().unwrap().remove("tankers");
    write(&answer, &["tankers", "it was written by tankerloop"]);
    let mut answer = kept.clone();
    answer["features"].as_array_mut().unwrap().retain(|f| f["properties"]["leg"] != "empty");
    write(&answer, &["lacks a leg"]);
    let mut answer = kept.clone();
    answer["features"][0]["geometry"]["coordinates"] = serde_json::json!([500.0, 0.0]);
    write(&answer, &["row 1", "incident"]);
    let mut answer = kept;
    answer["features"].as_array_mut().unwrap().retain(|f| f["properties"]["option"].is_null());
    write(&answer, &["no option"]);
}

#[test]
fn without_a_browser_one_line_says_what_to_do() {
    let out = county("sheet-no-browser");
    let (file, _) = planned(&out.join("scenario.toml"), &out);
    let to = out.join("sheets.pdf");
    let ran = with_env(&["sheet", text(&file), "-o", text(&to)], &[("PATH", "")]);
    assert_eq!(ran.code, 2);
    assert!(
        ran.err.contains("no browser") && ran.err.contains("open it in any browser and print it"),
        "{}",
        ran.err
    );
    assert_eq!(ran.err.trim_end().lines().count(), 1, "{}", ran.err);
    refused(
        &[text(&file), "-o", text(&to), "--browser", "/nowhere/browser"],
        &["/nowhere/browser", "--browser"],
    );
    assert!(!to.exists());
}

/// Stand-ins for a browser: the file appears when it is complete, or not at all.
#[cfg(unix)]
#[test]
fn a_browser_that_fails_leaves_the_old_file() {
    use std::os::unix::fs::PermissionsExt;
    let out = county("sheet-browsers");
    let (file, _) = planned(&out.join("scenario.toml"), &out);
    let (to, browser) = (out.join("a b.pdf"), out.join("browser"));
    let print = |script: &str| {
        std::fs::write(&browser, format!("#!/bin/sh\n{script}\n")).unwrap();
        std::fs::set_permissions(&browser, std::fs::Permissions::from_mode(0o755)).unwrap();
        let ran = tankerloop(&["sheet", text(&file), "-o", text(&to), "-q", "--browser", text(&browser)]);
        let left = std::fs::read_dir(&out).unwrap().filter(|entry| {
            let name = entry.as_ref().unwrap().file_name().to_string_lossy().into_owned();
            name.contains(".part") || name.contains(".print")
        });
        assert_eq!(left.count(), 0, "something was left");
        ran
    };
    let found =
        "for a; do case $a in --print-to-pdf=*) to=${a#--print-to-pdf=};; file://*) page=$a;; esac; done";
    let ran = print(&format!("{found}\nprintf '%%PDF-1.4 %s' \"$page\" > \"$to\""));
    assert_eq!(ran.code, 0, "{}", ran.err);
    let first = read_to_string(&to).unwrap();
    assert!(
        first.starts_with("%PDF-1.4 file:///")
            && first.ends_with("/sheet.html")
            && first.contains("a%20b.pdf"),
        "{first}"
    );
    for (script, why) in [
        (format!("{found}\nprintf half > \"$to\"; echo crashed >&2; exit 3"), "crashed"),
        (format!("{found}\nprintf 'no paper' > \"$to\""), "it wrote no PDF"),
        ("exit 0".to_string(), "it wrote no PDF"),
    ] {
        let ran = print(&script);
        assert_eq!(ran.code, 2, "{}", ran.err);
        assert!(ran.err.contains(why) && ran.err.contains("print it"), "{}", ran.err);
        assert_eq!(read_to_string(&to).unwrap(), first, "the old file is gone");
    }
}
