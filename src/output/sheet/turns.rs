//! A leg as its driver needs it: the turns in order, large, each with a sign of its shape, and what to watch for.

use crate::output::sheet::said::{Driven, Which};
use crate::output::sheet::words::{Units, name, prose, sentence};

/// The turn list. Its head is repeated where it goes on on a further page.
pub fn list(leg: &Driven, title: &str, units: Units) -> String {
    let class = match leg.said.leg {
        Which::Loaded => "loaded-list",
        Which::Empty => "empty-list",
    };
    let mut out = format!(
        "<table class=\"turns {class}\"><thead><tr class=\"leg-head\"><th colspan=\"4\" scope=\"colgroup\">{title}</th></tr>\
         <tr><th scope=\"col\">turn</th><th scope=\"col\">do</th><th scope=\"col\">heading</th><th scope=\"col\">then drive</th>\
         </tr></thead><tbody>"
    );
    for (number, step) in (1..).zip(&leg.said.steps) {
        let drive = if step.action == "arrive" { "—".into() } else { units.distance(step.distance_m) };
        out.push_str(&format!(
            "<tr><td class=\"sign\"><span>{number}</span>{}</td><th scope=\"row\" class=\"do\">{}</th><td class=\"bearing\">{} \
             <span>{:03}°</span></td><td class=\"far\">{drive}</td></tr>",
            shape(&step.action),
            sentence(&step.instruction),
            prose(&step.heading),
            step.bearing_deg
        ));
    }
    out + "</tbody></table>"
}

/// The way of a turn, from below upwards.
fn shape(action: &str) -> String {
    let d = match action {
        "start" => "M12 21V5M6 11L12 4L18 11M7 22H17",
        "continue" => "M12 22V4M6 10L12 3L18 10",
        "bear_left" => "M15 22V14L6 6M5 14V5H14",
        "bear_right" => "M9 22V14L18 6M19 14V5H10",
        "turn_left" => "M17 22V9H5M11 3L4 9L11 15",
        "turn_right" => "M7 22V9H19M13 3L20 9L13 15",
        "sharp_left" => "M17 22V5L7 17M6 8V18H16",
        "sharp_right" => "M7 22V5L17 17M18 8V18H8",
        "turn_round" => "M18 22V9A6 6 0 0 0 6 9V19M1 14L6 20L11 14",
        "roundabout" | "enter_roundabout" | "leave_roundabout" => {
            "M12 23V17M12 17A5 5 0 1 1 17 12M13 15L17 11L21 15"
        }
        "arrive" => "M6 22V3H19L15 8L19 13H6",
        _ => return String::new(),
    };
    format!("<svg viewBox=\"0 0 24 24\" aria-hidden=\"true\"><path d=\"{d}\"/></svg>")
}

/// What a leg says of itself: its sign on the map in words, length and time.
pub fn title(tanker: &str, leg: &Driven, from: &str, to: &str, units: Units) -> String {
    let word = match leg.said.leg {
        Which::Loaded => "LOADED",
        Which::Empty => "EMPTY",
    };
    format!(
        "<span class=\"leg-id\">{}</span><span class=\"leg-word\">{word}</span> <span class=\"leg-way\">{from} → {to}</span>, <span \
         class=\"leg-far\">{}, {}</span>",
        name(tanker),
        units.distance(leg.said.distance_m),
        units.time(leg.said.travel_s)
    )
}
