//! Conditions on signs against dates and times worked out by hand. 15 January 2026 is a Thursday.

use tankerloop::roads::condition::{Case, Condition, Moment, Truth, clauses};
use tankerloop::roads::limits::Kind;

fn holds(condition: &str, moment: Moment) -> Truth {
    let size = |kind: Kind| if kind.is_mass() { 10_000.0 } else { 3.0 };
    Condition::parse(condition).holds(&Case { moment: &moment, destination: true, size: &size })
}

fn at(when: &str) -> Moment {
    Moment::parse(when).unwrap_or_else(|| panic!("{when} is a time"))
}

#[test]
fn dates_and_times_are_read() {
    for (text, weekday) in [
        ("2026-01-15T14:00", 3),
        ("2024-02-29T00:00", 3),
        ("2000-03-01T23:59", 2),
        ("2026-11-01 9:30", 6),
        ("2026-01-12T14:00:00", 0),
    ] {
        assert_eq!(at(text).time.map(|clock| clock.weekday), Some(weekday), "{text}");
    }
    for text in [
        "2026-02-29T00:00",
        "2026-13-01T00:00",
        "2026-00-10T00:00",
        "2026-1-15T14:00",
        "2026-01-15",
        "2026-01-15T24:00",
        "2026-01-15T14:60",
        "2026-01-15T14:00Z",
        "2026-01-15T14:00+01:00",
        "noon",
        "",
        "2026-01-32T10:00",
        "2026-01-15-3T10:00",
        "éééé-01-15T10:00",
    ] {
        assert_eq!(Moment::parse(text), None, "{text}");
    }
}

#[test]
fn times_hold_or_not() {
    for (condition, yes, no) in [
        ("24/7", "2026-01-15T14:00", ""),
        ("Mo-Fr", "2026-01-15T14:00", "2026-01-17T14:00"),
        ("Fr-Mo", "2026-01-17T14:00", "2026-01-15T14:00"),
        ("Mo,Th", "2026-01-15T14:00", "2026-01-16T14:00"),
        ("07:00-09:00", "2026-01-15T07:00", "2026-01-15T09:00"),
        ("07:00-09:00,16:00-18:00", "2026-01-15T17:59", "2026-01-15T12:00"),
        ("07:00-09:00, 16:00-18:00", "2026-01-15T08:59", "2026-01-15T15:59"),
        ("Mo-Fr 07:00-09:00; Sa 10:00-12:00", "2026-01-17T11:00", "2026-01-17T08:00"),
        ("22:00-06:00", "2026-01-15T05:59", "2026-01-15T06:00"),
        // The night of Thursday ends on Friday morning, that of Wednesday on Thursday morning.
        ("Th 22:00-06:00", "2026-01-16T05:00", "2026-01-15T05:00"),
        ("Nov-Mar", "2026-01-15T14:00", "2026-04-01T00:00"),
        ("Jan", "2026-01-31T14:00", "2026-02-01T14:00"),
        ("Nov 15-Apr 15", "2026-04-15T23:59", "2026-04-16T00:00"),
        ("Jan 10-20", "2026-01-20T14:00", "2026-01-21T14:00"),
        ("Apr-Oct Mo-Fr 08:00-18:00", "2026-06-15T08:00", "2026-06-14T08:00"),
        ("2026 Jan 10-2026 Feb 20", "2026-02-20T14:00", "2025-01-15T14:00"),
        ("2026 Jan 10-Feb 20", "2026-02-20T14:00", "2027-01-15T14:00"),
        ("Mo-Fr 07:00-09:00 AND Jan", "2026-01-15T08:00", "2026-02-12T08:00"),
    ] {
        assert_eq!(holds(condition, at(yes)), Truth::Yes, "{condition} at {yes}");
        if !no.is_empty() {
            assert_eq!(holds(condition, at(no)), Truth::No, "{condition} at {no}");
        }
        assert!(Condition::parse(condition).was_read(), "{condition}");
    }
}

/// With the month alone some conditions are decided and some are not; with nothing few are.
#[test]
fn what_is_not_known_is_not_decided() {
    let month = |month| Moment::of_month(Some(month));
    assert_eq!(holds("Nov-Mar", month(1)), Truth::Yes);
    assert_eq!(holds("Nov-Mar", month(6)), Truth::No);
    assert_eq!(holds("Nov 15-Apr 15", month(4)), Truth::Maybe);
    assert_eq!(holds("Nov-Mar Mo-Fr", month(6)), Truth::No);
    assert_eq!(holds("Nov-Mar Mo-Fr", month(1)), Truth::Maybe);
    assert_eq!(holds("2026 Jan-2026 Feb", month(1)), Truth::Maybe);
    assert_eq!(holds("Mo-Fr", Moment::default()), Truth::Maybe);
    assert_eq!(holds("Mo-Fr AND weight>12", Moment::default()), Truth::No);
    assert_eq!(holds("Nov-Mar", Moment::default()), Truth::Maybe);
}

#[test]
fn sizes_and_purposes() {
    let now = Moment::default();
    for (condition, expected) in [
        ("weight>7.5", Truth::Yes),
        ("weight > 7.5", Truth::Yes),
        ("weight>10", Truth::No),
        ("weight>=10", Truth::Yes),
        ("weight<20000 lbs", Truth::No),
        ("weightrating<=10 t", Truth::Yes),
        ("height>9'10\"", Truth::Yes),
        ("length<3 m", Truth::No),
        ("destination", Truth::Yes),
        ("delivery AND weight>7.5", Truth::Yes),
        ("emergency", Truth::Yes),
    ] {
        assert_eq!(holds(condition, now), expected, "{condition}");
    }
}

/// What is not read can never be decided, whatever the time, and is said to be unread.
#[test]
fn what_is_not_read_is_said() {
    for condition in [
        "winter",
        "PH",
        "sunset-sunrise",
        "wet",
        "Mo-Fr off",
        "Mo-Fx",
        "07:00",
        "25:00-xx",
        "weight>heavy",
        "",
        "axles>3",
        "Jan 32",
        "Nov 5-x",
        "week 1-10",
        "Mo-Fr 07:00-09:00; PH off",
        "2026",
        "-",
        "@",
        "Mo-Fr 7-9",
    ] {
        assert!(!Condition::parse(condition).was_read(), "{condition}");
        assert_eq!(holds(condition, at("2026-01-15T08:00")), Truth::Maybe, "{condition}");
    }
}

#[test]
fn a_value_may_hold_several_clauses() {
    let read = clauses("8 @ (Mo-Fr 07:00-09:00; Sa 10:00-12:00); none @ destination;");
    assert_eq!(read.iter().map(|(value, _)| *value).collect::<Vec<_>>(), ["8", "none"]);
    assert!(read[1].1.is_for_destination() && read.iter().all(|(_, when)| when.was_read()));
    for torn in ["no", "no @", "@ ()", "no @ (Mo-Fr", "))(", "no @ x) ; (", "é @ (é)"] {
        assert!(clauses(torn).iter().all(|(_, when)| !when.was_read()), "{torn}");
    }
}
