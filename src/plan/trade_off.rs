//! What is won and what is paid by dumping farther from the fire.

use crate::plan::answer::PlanOption;
use crate::units::{GallonsPerMinute, Metres, Shown};

/// An option beside the best one at the dump site nearest to the fire.
#[derive(Clone, Debug, PartialEq)]
pub struct TradeOff {
    /// Number of the option compared with.
    pub against: usize,
    pub kind: &'static str,
    pub road: String,
    /// How much longer the lay is.
    pub farther: Metres,
    /// Flow won, or lost if negative: the sustained, or where nothing was simulated the ceiling.
    pub gain: GallonsPerMinute,
    /// Hose laid more, all lines together, or less if negative.
    pub hose: Metres,
}

impl TradeOff {
    pub fn text(&self, shown: Shown) -> String {
        let more = |value: f64, text: String| {
            let word = if value < 0.0 { "less" } else { "more" };
            format!("{text} {word}")
        };
        format!(
            "dump {} farther out on {} ({}): {}, {} hose than option {}",
            shown.distance(self.farther),
            self.road,
            self.kind,
            more(self.gain.0, shown.flow(GallonsPerMinute(self.gain.0.abs()))),
            more(self.hose.0, shown.distance(Metres(self.hose.0.abs()))),
            self.against,
        )
    }
}

/// Lays of less difference than this are at one dump site.
const SAME_LAY_M: f64 = 0.5;

/// Compares every option with the best one at the nearest dump site; nothing is to be said of those
/// that dump there themselves.
pub fn compare(options: &mut [PlanOption]) {
    let lay = |option: &PlanOption| option.lay.length.0;
    // The first of equals: options are ranked.
    let nearest = options.iter().reduce(|a, b| if lay(b) < lay(a) - SAME_LAY_M { b } else { a });
    let Some(nearest) = nearest else { return };
    let (against, place, length) = (nearest.number, nearest.dump, lay(nearest));
    let (flow, hose) = (nearest.flow(), length * f64::from(nearest.lay.lines));
    for option in options.iter_mut().filter(|o| o.dump != place) {
        option.trade_off = Some(TradeOff {
            against,
            kind: option.dump_kind.as_str(),
            road: option.dump_road.clone(),
            farther: Metres(lay(option) - length),
            gain: option.flow() - flow,
            hose: Metres(lay(option) * f64::from(option.lay.lines) - hose),
        });
    }
}
