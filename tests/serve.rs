//! `tankerloop serve`: a real server on a free port, asked over real HTTP.

#[path = "support/live.rs"]
mod live;
#[path = "support/run.rs"]
mod run;

use live::{Live, events, header, json};
use run::{county, layer, repository, tankerloop};
use serde_json::{Value, json};
use std::io::BufRead;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

fn scenario() -> PathBuf {
    repository("data/county/scenario.toml")
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// What `plan` writes with these arguments.
fn planned(scenario: &Path, more: &[&str]) -> Vec<u8> {
    let args: Vec<&str> = ["plan", text(scenario), "--quiet"].iter().chain(more).copied().collect();
    let ran = tankerloop(&args);
    assert!(ran.code < 2, "{}", ran.err);
    ran.out
}

/// A way that some tanker of option 1 drives, with a name.
fn way_of_a_leg(answer: &Value) -> i64 {
    let leg = layer(answer, "leg").into_iter().find(|p| p["option"] == 1).unwrap();
    let ways = leg["ways"].as_str().unwrap();
    let ways: Vec<i64> = ways.split(' ').map(|id| id.parse().unwrap()).collect();
    ways[ways.len() / 2]
}

/// From the extract and from the saved network, with every kind of change.
#[test]
fn answers_are_those_of_plan_byte_for_byte() {
    let folder = county("serve-bytes");
    let saved = folder.join("county.roads");
    let extract = folder.join("county.osm.pbf");
    assert_eq!(tankerloop(&["prepare", text(&extract), "-o", text(&saved)]).code, 0);
    let scenario = folder.join("scenario.toml");
    let first: Value = serde_json::from_slice(&planned(&scenario, &["--no-simulation"])).unwrap();
    let way = way_of_a_leg(&first);
    let asked: Vec<(Value, Vec<String>)> = vec![
        (json!({ "replications": 30 }), vec!["--replications=30".into()]),
        // Figures kept from the first serve these: all flows, and those of the fleet with a tanker less.
        (
            json!({ "replications": 30, "need_gpm": 700 }),
            vec!["--replications=30".into(), "--need=700".into()],
        ),
        (
            json!({ "replications": 30, "need_gpm": 350, "tankers": ["T1", "T2", "T3", "T4", "T5"] }),
            vec!["--replications=30".into(), "--need=350".into(), "--tankers=T1,T2,T3,T4,T5".into()],
        ),
        (json!({ "simulate": false }), vec!["--no-simulation".into()]),
        (
            json!({ "simulate": false, "closed_ways": [way], "month": 1 }),
            vec!["--no-simulation".into(), format!("--close={way}"), "--month=1".into()],
        ),
        (
            json!({ "replications": 20, "seed": 9, "need_gpm": 650, "tankers": ["T1", "T2", "T3"],
                    "without": ["Braskisk hydrant"], "water": "normal", "when": "2026-07-01T12:00" }),
            [
                "--replications=20",
                "--seed=9",
                "--need=650",
                "--tankers=T1,T2,T3",
                "--without=Braskisk hydrant",
                "--water=normal",
                "--when=2026-07-01T12:00",
            ]
            .map(String::from)
            .to_vec(),
        ),
    ];
    for roads in [&extract, &saved] {
        let live = Live::start(&scenario, &["--roads", text(roads)]);
        // Twice each, in turns: what is kept from one request must not show in another.
        for (body, flags) in asked.iter().chain(&asked) {
            let flags: Vec<&str> =
                ["--roads", text(roads)].into_iter().chain(flags.iter().map(String::as_str)).collect();
            let response = live.post("/api/plan", body);
            assert_eq!(response.status_code, 200, "{body}: {:?}", response.as_str());
            assert_eq!(header(&response, "content-type"), "application/geo+json");
            assert!(response.as_bytes() == planned(&scenario, &flags), "{body} on {}", roads.display());
        }
    }
}

#[test]
fn a_stream_begins_with_ceilings_and_ends_with_the_answer() {
    let live = Live::start(&scenario(), &[]);
    let body = json!({ "replications": 30 });
    let lines = events(live.stream(&body));
    let parsed: Vec<Value> = lines.iter().map(|line| serde_json::from_str(line).unwrap()).collect();
    let kinds: Vec<&str> = parsed.iter().map(|event| event["event"].as_str().unwrap()).collect();
    assert_eq!((kinds[0], kinds[kinds.len() - 1]), ("ceilings", "answer"));
    assert!(kinds.len() > 2 && kinds[1..kinds.len() - 1].iter().all(|kind| *kind == "simulated"));

    // The first is the answer without the simulation, the last the one with it, to the byte.
    let alone = live.post("/api/plan", &json!({ "replications": 30, "simulate": false }));
    assert!(parsed[0]["answer"] == json(&alone));
    assert_eq!(parsed[0]["answer"]["tankerloop"]["simulated"], false);
    let answer = live.post("/api/plan", &body);
    let last = lines[lines.len() - 1].strip_prefix("{\"event\":\"answer\",\"answer\":").unwrap();
    assert_eq!(format!("{}\n", last.strip_suffix('}').unwrap()), answer.as_str().unwrap());

    // Every case once; every option that was shown first is one of them, and what it then sustains is no more
    // than its ceiling.
    let simulated = &parsed[1..parsed.len() - 1];
    let of = simulated[0]["of"].as_u64().unwrap();
    let mut done: Vec<u64> = simulated.iter().map(|event| event["done"].as_u64().unwrap()).collect();
    done.sort_unstable();
    assert_eq!(done, (1..=of).collect::<Vec<_>>());
    for option in layer(&parsed[0]["answer"], "dump_site") {
        assert!(option["sustained_flow_gpm"].is_null() && option["limiter"].is_null());
        let mine =
            simulated.iter().find(|event| event["option"] == option["option"]).expect("it is simulated");
        let (flow, ceiling) = (&mine["sustained_flow_gpm"], &option["ceiling_flow_gpm"]);
        assert!(flow.as_f64().unwrap() <= ceiling.as_f64().unwrap() + 0.05, "{flow} over {ceiling}");
    }

    // What cannot be planned is told as the last event too.
    let refused = events(live.stream(&json!({ "incident": [0, 0] })));
    let last: Value = serde_json::from_str(refused.last().unwrap()).unwrap();
    assert_eq!((&last["event"], &last["findings"][0]["code"]), (&json!("refused"), &json!("off-the-roads")));
}

/// With and without wishes, byte for byte what the command makes of the plan's answer.
#[test]
fn sheets_are_those_of_the_command() {
    let folder = county("serve-sheets");
    let (answer, extract) = (folder.join("answer.geojson"), folder.join("county.osm.pbf"));
    let live = Live::start(&folder.join("scenario.toml"), &[]);
    assert_eq!(json(&live.get("/api/state"))["sheet"], true);
    let asked = json!({ "replications": 20, "need_gpm": 450 });
    std::fs::write(&answer, planned(&folder.join("scenario.toml"), &["--replications=20", "--need=450"]))
        .unwrap();
    for (query, flags) in
        [("", &[][..]), ("?units=metric&paper=a4&option=2", &["--units=metric", "--paper=a4", "--option=2"])]
    {
        let response = live.post(&format!("/api/sheet{query}"), &asked);
        assert_eq!(response.status_code, 200, "{:?}", response.as_str());
        assert_eq!(header(&response, "content-type"), "text/html; charset=utf-8");
        let to = folder.join("sheets.html");
        let args =
            [&["sheet", text(&answer), "-q", "-o", text(&to), "--roads", text(&extract)], flags].concat();
        let ran = tankerloop(&args);
        assert_eq!(ran.code, 0, "{}", ran.err);
        assert!(response.as_bytes() == std::fs::read(&to).unwrap(), "{query}");
    }
    let none = live.post("/api/sheet?option=99", &asked);
    assert_eq!(none.status_code, 422);
    assert!(json(&none)["error"].as_str().unwrap().contains("no option 99"), "{:?}", none.as_str());
    assert_eq!(live.post("/api/sheet?paper=wall", &asked).status_code, 400);
}

#[test]
fn other_sites_are_refused() {
    let live = Live::start(&scenario(), &[]);
    let port = live.port;
    let state =
        |headers: &str| live.ask(&format!("GET /api/state HTTP/1.1\r\n{headers}Connection: close\r\n\r\n"));
    for good in [
        format!("Host: 127.0.0.1:{port}\r\n"),
        format!("Host: localhost:{port}\r\n"),
        format!(
            "Host: 127.0.0.1:{port}\r\nOrigin: http://127.0.0.1:{port}\r\nSec-Fetch-Site: same-origin\r\n"
        ),
    ] {
        let (status, answer) = state(&good);
        assert_eq!(status, 200, "{good}: {answer}");
    }
    for bad in [
        format!("Host: rebound.example:{port}\r\n"),
        "Host: 127.0.0.1\r\n".to_string(),
        format!("Host: 127.0.0.1:{port}.rebound.example\r\n"),
        format!("Host: 127.0.0.1:{port}\r\nOrigin: http://rebound.example\r\n"),
        format!("Host: 127.0.0.1:{port}\r\nOrigin: null\r\n"),
        format!("Host: 127.0.0.1:{port}\r\nOrigin: https://127.0.0.1:{port}\r\n"),
        format!("Host: 127.0.0.1:{port}\r\nSec-Fetch-Site: cross-site\r\nSec-Fetch-Mode: no-cors\r\n"),
    ] {
        let (status, answer) = state(&bad);
        assert_eq!(status, 403, "{bad}: {answer}");
        assert!(!answer.contains("Reservoir") && !answer.contains("access-control"), "{answer}");
    }
    // A link from elsewhere opens the page, and asks for nothing else.
    let from_elsewhere =
        format!("Host: 127.0.0.1:{port}\r\nSec-Fetch-Site: cross-site\r\nSec-Fetch-Mode: navigate\r\n");
    let (status, _) = live.ask(&format!("GET / HTTP/1.1\r\n{from_elsewhere}Connection: close\r\n\r\n"));
    assert_ne!(status, 403);
    assert_eq!(state(&from_elsewhere).0, 403);
    // Two Hosts; a proxy's form; nothing but the routes, and nothing from the disk.
    assert_ne!(state(&format!("Host: 127.0.0.1:{port}\r\nHost: rebound.example\r\n")).0, 200);
    let (status, _) = live.ask(&format!(
        "GET http://rebound.example/api/state HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close\r\n\r\n"
    ));
    assert_eq!(status, 403);
    for path in ["/../../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "/scenario.toml", "/api/../Cargo.toml"] {
        let (status, answer) =
            live.ask(&format!("GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close\r\n\r\n"));
        assert!(matches!(status, 400 | 404), "{path}: {answer}");
    }
    let response = live.get("/api/state");
    assert_eq!(header(&response, "x-content-type-options"), "nosniff");
    assert!(header(&response, "content-security-policy").starts_with("default-src 'none'"));
}

#[test]
fn what_is_no_request_is_told() {
    let live = Live::start(&scenario(), &[]);
    let post = |kind: &str, body: &str| {
        let response =
            minreq::post(live.url("/api/plan")).with_header("Content-Type", kind).with_body(body).send();
        let response = response.unwrap();
        let told = json(&response)["error"].as_str().unwrap_or_default().to_string();
        (response.status_code, told)
    };
    let json_kind = "application/json";
    assert_eq!(post("text/plain", "{}").0, 415);
    assert_eq!(post(json_kind, "{").0, 400);
    let (status, told) = post(json_kind, "{\"ned_gpm\": 1}");
    assert!(status == 422 && told.contains("ned_gpm"), "{told}");
    for (body, named) in [
        (json!({ "incident": [0, 0] }), "km away"),
        (json!({ "incident": "the old mill" }), "cannot be read as coordinates"),
        (json!({ "need_gpm": -1 }), "gpm"),
        (json!({ "without": ["<script>alert(1)</script>"] }), "there is no fill site"),
        (json!({ "tankers": ["T99"] }), "there is no tanker \"T99\""),
        (json!({ "tankers": [] }), "the fleet has no tanker"),
        (json!({ "replications": 100_000 }), "up to 2000"),
        (json!({ "month": 13 }), "month is 13"),
        (json!({ "when": "yesterday" }), "no date and time"),
    ] {
        let (status, told) = post(json_kind, &body.to_string());
        assert!(status == 422 && told.contains(named), "{body}: {status} {told}");
    }
    // More than 64 kB, by its length or as it comes.
    let large = json!({ "without": ["x".repeat(70_000)] }).to_string();
    assert_eq!(post(json_kind, &large).0, 413);
    let (status, _) = live.ask(&format!(
        "POST /api/plan HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nContent-Type: application/json\r\nTransfer-Encoding: \
         chunked\r\nConnection: close\r\n\r\n{:x}\r\n{large}\r\n0\r\n\r\n",
        live.port,
        large.len()
    ));
    assert_eq!(status, 413);
}

/// A plan that takes long, on the only worker; the first event tells that it runs. The worker is free only a
/// little after the last line of the plan before is out: until then the queue turns it away.
fn long(live: &Live, replications: u32) -> std::io::BufReader<std::net::TcpStream> {
    loop {
        let mut stream = live.stream(&json!({ "replications": replications }));
        let mut line = String::new();
        stream.read_line(&mut line).unwrap();
        if !line.contains(" 503 ") {
            while !line.contains("\"ceilings\"") {
                line.clear();
                assert_ne!(stream.read_line(&mut line).unwrap(), 0);
            }
            return stream;
        }
        std::thread::sleep(Duration::from_millis(5));
    }
}

#[test]
fn a_full_queue_turns_away_and_a_client_that_goes_makes_room() {
    let live = Live::start(&scenario(), &["--workers", "1", "--queue", "0"]);
    let quick = || live.post("/api/plan", &json!({ "simulate": false }));
    assert_eq!(quick().status_code, 200);

    // To the end, so that it is known how long it takes on this machine.
    let begin = Instant::now();
    let mut stream = long(&live, 2_000);
    let mut rest = String::new();
    while stream.read_line(&mut rest).unwrap() > 0 {}
    let whole = begin.elapsed();
    assert!(rest.contains("\"answer\""));

    // One less, or what the first found would be taken.
    let stream = long(&live, 1_999);
    let turned_away = quick();
    assert_eq!(turned_away.status_code, 503);
    assert!(header(&turned_away, "retry-after").parse::<u32>().unwrap() > 0);
    // What costs little is answered all the same.
    assert_eq!(live.get("/api/state").status_code, 200);
    let begin = Instant::now();
    drop(stream);
    while quick().status_code == 503 {
        std::thread::sleep(Duration::from_millis(5));
    }
    let freed = begin.elapsed();
    // It is called off between one simulation and the next: one of a dozen or so.
    assert!(freed < whole.mul_f64(0.6), "free after {freed:?}, the whole takes {whole:?}");
}

#[test]
fn a_closed_road_changes_the_way() {
    let live = Live::start(&scenario(), &[]);
    let plan = |body: Value| json(&live.post("/api/plan", &body));
    let before = plan(json!({ "simulate": false }));
    let way = way_of_a_leg(&before);
    let drives = |answer: &Value| {
        let legs = layer(answer, "leg");
        legs.iter().any(|leg| leg["ways"].as_str().unwrap().split(' ').any(|id| id == way.to_string()))
    };
    assert!(drives(&before));
    let after = plan(json!({ "simulate": false, "closed_ways": [way] }));
    assert!(!drives(&after), "way {way} is closed and driven");
    let told = after["tankerloop"]["findings"].as_array().unwrap();
    assert!(told.iter().any(|f| f["code"] == "overlay-applied" && f["where"]["file"] == "the request"));
    // And is open again for whoever does not close it.
    assert!(plan(json!({ "simulate": false })) == before);
}

#[test]
fn places_and_ways_are_found() {
    let live = Live::start(&scenario(), &[]);
    let state = json(&live.get("/api/state"));
    let [lon, lat] = [0, 1].map(|i| state["incident"]["at"][i].as_f64().unwrap());
    assert_eq!(state["need_gpm"], 500.0);
    assert!(state["tankers"].as_array().unwrap().iter().any(|t| t["id"] == "T1" && t["call"].is_null()));
    assert!(state["sites"].as_array().unwrap().iter().any(|s| s["name"] == "Reservoir landing"));

    let way = json(&live.get(&format!("/api/way?lon={lon}&lat={lat}")));
    assert!(way["way"].as_i64().unwrap() > 0 && way["distance_m"].as_f64().unwrap() <= 100.0);
    assert!(!way["lines"][0].as_array().unwrap().is_empty());
    assert_eq!(live.get("/api/way?lon=0&lat=0").status_code, 422);
    assert_eq!(live.get("/api/way?lon=x&lat=0").status_code, 400);

    let found = json(&live.get(&format!("/api/place?text={lon},{lat}")));
    assert_eq!((&found["lon"], &found["lat"]), (&json!(lon), &json!(lat)));
    let exchanged = live.get(&format!("/api/place?text={lat},{lon}"));
    assert_eq!(exchanged.status_code, 422);
    assert!(json(&exchanged)["error"].as_str().unwrap().contains("longitude first"));

    let map = json(&live.get("/api/backdrop"));
    assert!(map["roads"].as_array().unwrap().len() > 10 && map["areas"].as_array().unwrap().len() > 1);
    let part = format!("/api/backdrop?west={lon}&south={lat}&east={}&north={}", lon + 0.01, lat + 0.01);
    let fewer = json(&live.get(&part));
    assert!(fewer["roads"].as_array().unwrap().len() < map["roads"].as_array().unwrap().len());
    assert_eq!(live.get("/api/backdrop?west=1").status_code, 422);
}

#[test]
fn hostile_names_are_harmless() {
    let folder = county("serve-hostile");
    let hostile = "</script><script>alert(1)</script>\u{202e}\"'";
    let path = folder.join("fill-sites.geojson");
    let sites = std::fs::read_to_string(&path).unwrap();
    let named = sites.replace("Reservoir landing", &hostile.replace('"', "\\\""));
    assert_ne!(sites, named);
    std::fs::write(&path, named).unwrap();
    let live = Live::start(&folder.join("scenario.toml"), &[]);
    let page = live.get("/");
    if page.status_code == 200 {
        assert!(
            !page.as_str().unwrap().contains("alert(1)") && !page.as_str().unwrap().contains("Reservoir")
        );
        let policy = header(&page, "content-security-policy");
        assert!(policy.contains("connect-src 'self' blob:") && !policy.contains("unsafe-"), "{policy}");
        assert!(page.as_str().unwrap().contains("<script type=\"application/json\" id=\"data-live\">"));
        let kept = live.post("/api/page", &json!({ "simulate": false }));
        assert_eq!(kept.status_code, 200);
        assert!(!kept.as_str().unwrap().contains("<script>alert"));
        assert!(kept.as_str().unwrap().contains("u003c/script"));
    }
    let state = live.get("/api/state");
    assert_eq!(header(&state, "content-type"), "application/json");
    assert!(json(&state)["sites"].as_array().unwrap().iter().any(|site| site["name"] == hostile));
    let without = live.post("/api/plan", &json!({ "simulate": false, "without": [hostile] }));
    let answer = json(&without);
    let site = layer(&answer, "fill_site").into_iter().find(|site| site["name"] == hostile).unwrap();
    assert_eq!((&site["used"], &site["reason"]), (&json!(false), &json!("out of service")));
}

#[test]
fn every_route_described_answers() {
    let live = Live::start(&scenario(), &[]);
    let api = json(&live.get("/api/openapi.json"));
    assert!(api["openapi"].as_str().unwrap().starts_with("3."));
    let fields = api["components"]["schemas"]["PlanAsk"]["properties"].as_object().unwrap();
    for field in [
        "incident",
        "dump",
        "need_gpm",
        "tankers",
        "without",
        "closed_ways",
        "month",
        "when",
        "water",
        "replications",
        "seed",
        "simulate",
    ] {
        assert!(fields.contains_key(field), "{field} is not described");
    }
    // Every reference leads somewhere.
    let whole = api.to_string();
    for part in whole.split("\"#/components/schemas/").skip(1) {
        let name = part.split('"').next().unwrap();
        assert!(api["components"]["schemas"].get(name).is_some(), "{name} is not described");
    }
    let mut asked = 0;
    for (path, methods) in api["paths"].as_object().unwrap() {
        for (method, about) in methods.as_object().unwrap() {
            let query = match path.as_str() {
                "/api/place" => "?text=-34.0,31.0",
                "/api/way" => "?lon=0&lat=0",
                _ => "",
            };
            let response = match method.as_str() {
                "get" => live.get(&format!("{path}{query}")),
                "post" => live.post(path, &json!({ "simulate": false })),
                other => panic!("nothing is asked by {other}"),
            };
            let status = response.status_code;
            // Without Node.js there is no page.
            let missing = matches!(path.as_str(), "/" | "/api/page") && matches!(status, 404 | 422);
            let described = about["responses"].get(status.to_string()).is_some();
            assert!(missing || described && status < 500, "{method} {path}: {status}");
            asked += 1;
        }
    }
    assert_eq!(asked, 9);
}

#[test]
fn what_cannot_be_served_is_refused_in_one_line() {
    let folder = county("serve-refused");
    let (extract, saved) = (folder.join("county.osm.pbf"), folder.join("county.roads"));
    assert_eq!(tankerloop(&["prepare", text(&extract), "-o", text(&saved)]).code, 0);
    let scenario = folder.join("scenario.toml");
    let serve = |roads: &Path| tankerloop(&["serve", text(&scenario), "--port", "0", "--roads", text(roads)]);
    let good = std::fs::read(&saved).unwrap();
    let mut damaged = good.clone();
    let middle = damaged.len() / 2;
    damaged[middle] ^= 1;
    for bytes in [&damaged[..], &good[..good.len() - 100]] {
        std::fs::write(&saved, bytes).unwrap();
        let ran = serve(&saved);
        assert_eq!((ran.code, ran.err.lines().count()), (2, 1), "{}", ran.err);
        assert!(ran.err.contains("county.roads") && ran.err.contains("prepare"), "{}", ran.err);
    }
    // Stale: the extract is another since.
    std::fs::write(&saved, &good).unwrap();
    let mut changed = std::fs::read(&extract).unwrap();
    changed.extend([0]);
    std::fs::write(&extract, changed).unwrap();
    let ran = serve(&saved);
    assert_eq!((ran.code, ran.err.lines().count()), (2, 1), "{}", ran.err);
    assert!(ran.err.contains("has changed"), "{}", ran.err);
    // A port that is taken.
    let taken = std::net::TcpListener::bind(("127.0.0.1", 0)).unwrap();
    let port = taken.local_addr().unwrap().port().to_string();
    let ran = tankerloop(&["serve", text(&repository("data/county/scenario.toml")), "--port", &port]);
    assert_eq!((ran.code, ran.err.lines().count()), (2, 1), "{}", ran.err);
    assert!(ran.err.contains("--port 0"), "{}", ran.err);
}

#[cfg(unix)]
#[test]
fn it_stops_when_asked() {
    let live = Live::start(&scenario(), &[]);
    assert_eq!(live.get("/api/state").status_code, 200);
    let stream = long(&live, 2_000);
    let pid = live.pid().to_string();
    assert!(std::process::Command::new("kill").args(["-INT", &pid]).status().unwrap().success());
    drop(stream);
    assert_eq!(live.wait(), Some(0));
}
