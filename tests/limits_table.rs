//! Every spelling of every limit's key, one row each, through the tag reader. Spellings: OSM wiki,
//! "Map features/Units", "Key:maxweight", "Key:maxheight".

use tankerloop::finding::{Findings, OsmRef};
use tankerloop::roads::limits::{Kind, Limits, Posted, ReadLimits, Reading, read, reading};

/// 1 lb is 0.45359237 kg; st 2,000 lb, lt 2,240 lb, cwt 112 lb.
const MASSES: &[(&str, f64)] = &[
    ("7.5", 7_500.0),
    ("7.5 t", 7_500.0),
    ("7.5t", 7_500.0),
    (" 12 ", 12_000.0),
    ("8 tonnes", 8_000.0),
    ("3500 kg", 3_500.0),
    ("3500kg", 3_500.0),
    ("10 st", 9_071.847_4),
    ("10st", 9_071.847_4),
    ("20000 lbs", 9_071.847_4),
    ("20,000 lbs", 9_071.847_4),
    ("20000 lb", 9_071.847_4),
    ("20000lbs", 9_071.847_4),
    ("10 lt", 10_160.469_088),
    ("200 cwt", 10_160.469_088),
];

/// 1 ft is 0.3048 m.
const LENGTHS: &[(&str, f64)] = &[
    ("3.5", 3.5),
    ("3.5 m", 3.5),
    ("3.5m", 3.5),
    ("350 cm", 3.5),
    ("350cm", 3.5),
    ("12'", 3.6576),
    ("12 ft", 3.6576),
    ("12ft", 3.6576),
    ("12 feet", 3.6576),
    ("12'6\"", 3.81),
    ("12' 6\"", 3.81),
    ("12'6''", 3.81),
    ("12 ft 6 in", 3.81),
    ("12ft 6in", 3.81),
    ("12′6″", 3.81),
    ("12’6”", 3.81),
    ("150\"", 3.81),
    ("150 in", 3.81),
];

const NONE: &[&str] = &["none", "unsigned", "default", "no_sign", "no_indications", "no"];

const NONSENSE: &[&str] = &[
    "",
    "yes",
    "low",
    "survey",
    "3,5",
    "3.5;4",
    "~3.5",
    "3.5-4",
    "-3",
    "0",
    "NaN",
    "inf",
    "1e3",
    "3.5 furlongs",
    "12'13\"",
    "3.5 3.5",
    "fixme",
    "below_default",
    ".",
    "3..5",
    "٣",
];

fn one(key: &str, value: &str) -> (ReadLimits, Findings) {
    let mut findings = Findings::new();
    let limits = read(&[(key, value)], OsmRef::Way(1), &mut findings);
    (limits, findings)
}

fn table(kind: Kind) {
    let key = kind.key();
    let spellings = if kind.is_mass() { MASSES } else { LENGTHS };
    for (value, expected) in spellings {
        let (limits, findings) = one(key, value);
        match limits.both.get(kind) {
            Posted::At(got) => assert!((got - expected).abs() < 1e-9, "{key}={value}: {got}"),
            other => panic!("{key}={value}: {other:?}"),
        }
        assert!(
            findings.iter().all(|f| f.code.as_str() == "limit-implausible"),
            "{key}={value}: {findings:?}"
        );
    }
    for value in NONE {
        let (limits, findings) = one(key, value);
        assert!(limits.both.is_empty() && findings.is_empty(), "{key}={value}: {limits:?} {findings:?}");
        assert_eq!(reading(key, value), Some(Reading::Vague), "{key}={value}");
    }
    for value in NONSENSE {
        let (limits, findings) = one(key, value);
        assert_eq!(limits.both.get(kind), Posted::Unreadable((*value).into()), "{key}");
        let told: Vec<_> = findings.iter().map(|f| f.code.as_str()).collect();
        assert_eq!(told, ["limit-unreadable"], "{key}={value}");
        let vague = *value == "below_default";
        assert_eq!(reading(key, value), Some(if vague { Reading::Vague } else { Reading::Unreadable }));
    }
    // No other limit is touched.
    let (limits, _) = one(key, spellings[0].0);
    let mut expected = Limits::default();
    expected.set(kind, Posted::At(spellings[0].1));
    assert_eq!(limits.both, expected);
}

#[test]
fn maxweight() {
    table(Kind::Weight);
}
#[test]
fn maxweightrating() {
    table(Kind::Rating);
}
#[test]
fn maxaxleload() {
    table(Kind::Axle);
}
#[test]
fn maxbogieweight() {
    table(Kind::Bogie);
}
#[test]
fn maxheight() {
    table(Kind::Height);
}
#[test]
fn maxwidth() {
    table(Kind::Width);
}
#[test]
fn maxlength() {
    table(Kind::Length);
}

/// A length is no mass and a mass no length.
#[test]
fn units_of_the_other_kind_are_unreadable() {
    for kind in Kind::ALL {
        let wrong = if kind.is_mass() { LENGTHS } else { MASSES };
        for (value, _) in wrong.iter().filter(|(v, _)| v.ends_with(|c: char| !c.is_ascii_digit() && c != ' '))
        {
            let (limits, _) = one(kind.key(), value);
            // `t` in "12 ft" and "12 lt" is no tonne; nothing of the other table may be read.
            assert!(matches!(limits.both.get(kind), Posted::Unreadable(_)), "{}={value}", kind.key());
        }
    }
}

/// Which direction, which class, which condition a key is for.
#[test]
fn subkeys() {
    let sides = |tags: &[(&str, &str)]| {
        let found = read(tags, OsmRef::Way(1), &mut Findings::new());
        let both = found.both.get(Kind::Weight);
        [0, 1].map(|side| {
            let own = found.directed[side].get(Kind::Weight);
            match if both.is_none() { own } else { both.clone() } {
                Posted::At(kg) => kg / 1000.0,
                Posted::None => f64::INFINITY,
                Posted::Unreadable(_) => f64::NAN,
            }
        })
    };
    let free = f64::INFINITY;
    for (tags, expected) in [
        (&[("maxweight", "10")][..], [10.0, 10.0]),
        (&[("maxweight:forward", "10")], [10.0, free]),
        (&[("maxweight:backward", "10")], [free, 10.0]),
        (&[("maxweight:both_ways", "10")], [10.0, 10.0]),
        (&[("maxweight", "10"), ("maxweight:forward", "20")], [20.0, 10.0]),
        (&[("maxweight", "10"), ("maxweight:backward", "none")], [10.0, free]),
        (&[("maxweight:hgv", "10")], [10.0, 10.0]),
        (&[("maxweight:hgv:forward", "10")], [10.0, free]),
        (&[("maxweight", "10"), ("maxweight:hgv", "8")], [8.0, 8.0]),
        (&[("maxweight", "8"), ("maxweight:hgv", "10")], [8.0, 8.0]),
        (&[("maxweight", "8"), ("maxweight:emergency", "10")], [10.0, 10.0]),
        (&[("maxweight", "10"), ("maxweight:emergency", "8")], [8.0, 8.0]),
        (&[("maxweight", "10"), ("maxweight:emergency:forward", "12")], [12.0, 10.0]),
        (&[("maxweight", "10"), ("maxweight:emergency", "none")], [free, free]),
        (&[("maxweight:bus", "10"), ("maxweight:trailer", "2")], [free, free]),
        (&[("maxweight:signed", "no"), ("maxweight:note", "7")], [free, free]),
        (&[("maxweight", "10"), ("maxweight:unladen", "4")], [4.0, 4.0]),
        (&[("maxweight:lanes", "10|12")], [10.0, 10.0]),
    ] {
        assert_eq!(sides(tags), expected, "{tags:?}");
    }
    // A key nobody defined is told.
    let (limits, findings) = one("maxweight:purple", "7");
    assert!(limits.both.is_empty() && limits.rules.is_empty());
    assert_eq!(findings.iter().map(|f| f.code.as_str()).collect::<Vec<_>>(), ["tag-unreadable"]);
}
