//! The shuttle in small time steps: trucks that drive, queue, connect, pour and fill, and a tank
//! that is drawn from. Slow, and written to be read.

use crate::verify::crew::{Crew, Truck};
use crate::verify::mouths::Mouths;
use crate::verify::narrow::Passage;
use rand_distr::{Distribution, Exp1, LogNormal};
use rand_pcg::Pcg32;
use rayon::prelude::*;
use serde_json::Value;

/// Time step. Clocked times are carried over exactly; only water moves by whole steps.
const STEP_S: f64 = 2.0;

/// How a time varies about its mean.
#[derive(Clone, Copy, Debug)]
enum Vary {
    Fixed,
    LogNormal(LogNormal<f64>),
    Exponential,
}

impl Vary {
    /// From the scenario's words: `"fixed"`, `"exponential"` or `{ "log-normal": { "cv": 0.1 } }`.
    fn read(words: &Value) -> Result<Vary, String> {
        match words.as_str() {
            Some("fixed") => return Ok(Vary::Fixed),
            Some("exponential") => return Ok(Vary::Exponential),
            _ => {}
        }
        let cv = words.get("log-normal").and_then(|l| l.get("cv")).and_then(Value::as_f64);
        let cv = cv.ok_or_else(|| format!("a spread of {words} is not known"))?;
        if cv <= 0.0 {
            return Ok(Vary::Fixed);
        }
        LogNormal::from_mean_cv(1.0, cv).map(Vary::LogNormal).map_err(|e| e.to_string())
    }
    /// A factor with mean 1.
    fn factor(self, dice: &mut Pcg32) -> f64 {
        match self {
            Vary::Fixed => 1.0,
            Vary::LogNormal(law) => law.sample(dice),
            Vary::Exponential => Exp1.sample(dice),
        }
    }
}

/// What varies.
#[derive(Clone, Copy, Debug)]
pub struct Spread {
    travel: Vary,
    handling: Vary,
    service: Vary,
}

impl Spread {
    pub fn read(words: &Value) -> Result<Spread, String> {
        let part = |key: &str| Vary::read(words.get(key).unwrap_or(&Value::Null));
        Ok(Spread { travel: part("travel")?, handling: part("handling")?, service: part("service")? })
    }
    #[cfg(test)]
    const FIXED: Spread = Spread { travel: Vary::Fixed, handling: Vary::Fixed, service: Vary::Fixed };
}

/// What a truck is doing; all times are seconds from the call. `from` is the time up to which its
/// water has been counted, so that nothing is lost where a step begins late.
#[derive(Clone, Copy, Debug)]
enum Doing {
    /// Driving to the mouth of a lane.
    ToMouth {
        drive: Drive,
        until: f64,
    },
    /// Waiting there.
    AtMouth {
        drive: Drive,
    },
    InLane {
        drive: Drive,
        until: f64,
    },
    /// The rest of the leg.
    ToDump {
        until: f64,
    },
    AwaitingDump {
        since: f64,
    },
    DumpHandling {
        until: f64,
    },
    Dumping {
        from: f64,
        left_gal: f64,
        gpm: f64,
    },
    ToFill {
        until: f64,
    },
    AwaitingFill {
        since: f64,
    },
    FillHandling {
        until: f64,
    },
    Filling {
        from: f64,
        left_gal: f64,
        gpm: f64,
    },
    /// Its source is empty.
    Laid,
}

/// A leg with lanes, half driven.
#[derive(Clone, Copy, Debug)]
struct Drive {
    loaded: bool,
    /// Every time of this leg is multiplied by it.
    factor: f64,
    /// Of the leg's passages, the one ahead or being driven.
    passage: usize,
}

/// Berths, each with the time since which it is free; those in use are not listed.
type Free = Vec<f64>;

struct Run<'c> {
    crew: &'c Crew,
    spread: &'c Spread,
    doing: Vec<Doing>,
    dice: Vec<Pcg32>,
    dump_free: Free,
    fill_free: Vec<Free>,
    lanes: Vec<Mouths>,
    volume_left: Vec<f64>,
    /// What each truck brings to the dump site: its load, less where its source gave out.
    carries_gal: Vec<f64>,
    level_gal: f64,
}

/// One truck's dice in one replication.
fn dice_of(truck: usize, replication: u64) -> Pcg32 {
    Pcg32::new(0x9e37_79b9 ^ (replication << 20), truck as u64)
}

/// When the last truck of a replication has unloaded its first load, in order of arrival, the tanks
/// having room for all.
fn first_loads_s(crew: &Crew, spread: &Spread, replication: u64) -> f64 {
    let mut order: Vec<(f64, f64)> = Vec::new();
    for (i, truck) in crew.trucks.iter().enumerate() {
        let mut dice = dice_of(i, replication);
        let arrival_s = truck.arrival_s * spread.travel.factor(&mut dice);
        let handling_s = truck.dump_handling_s * spread.handling.factor(&mut dice);
        let pouring_s = truck.load_gal / truck.dump_gpm * 60.0 * spread.service.factor(&mut dice);
        order.push((arrival_s, handling_s + pouring_s));
    }
    order.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut free = vec![0.0_f64; crew.dump_berths.max(1) as usize];
    let mut last = 0.0_f64;
    for (arrival, takes) in order {
        free.sort_by(f64::total_cmp);
        free[0] = free[0].max(arrival) + takes;
        last = last.max(free[0]);
    }
    last
}

/// Whether one replication holds the draw for the whole period, from `early_s` before its own first
/// loads are in.
fn holds(crew: &Crew, spread: &Spread, early_s: f64, draw_gpm: f64, replication: u64) -> bool {
    let start_s = (first_loads_s(crew, spread, replication) - early_s).max(0.0);
    let mut dice: Vec<Pcg32> = (0..crew.trucks.len()).map(|i| dice_of(i, replication)).collect();
    let doing = crew.trucks.iter().zip(&mut dice);
    let doing =
        doing.map(|(t, dice)| Doing::ToDump { until: t.arrival_s * spread.travel.factor(dice) }).collect();
    let mut run = Run {
        crew,
        spread,
        doing,
        dice,
        dump_free: vec![0.0; crew.dump_berths as usize],
        fill_free: crew.sources.iter().map(|s| vec![0.0; s.berths as usize]).collect(),
        lanes: vec![Mouths::default(); crew.lanes],
        volume_left: crew.sources.iter().map(|s| s.volume_gal.unwrap_or(f64::INFINITY)).collect(),
        carries_gal: crew.trucks.iter().map(|t| t.load_gal).collect(),
        level_gal: 0.0,
    };
    let mut now = 0.0;
    while now < start_s + crew.period_s {
        // A step ends at the start of the draw and at its end.
        let edge = if now < start_s { start_s } else { start_s + crew.period_s };
        let next = (now + STEP_S).min(edge);
        run.clocks(now);
        run.fill(next);
        let draw_gal = if now >= start_s { draw_gpm * (next - now) / 60.0 } else { 0.0 };
        run.pour(next, draw_gal);
        if run.level_gal < -1e-6 {
            return false;
        }
        now = next;
    }
    true
}

impl Run<'_> {
    fn leg(&self, truck: usize, loaded: bool) -> (f64, &[Passage]) {
        let truck = &self.crew.trucks[truck];
        if loaded { (truck.loaded_s, &truck.loaded_lanes) } else { (truck.empty_s, &truck.empty_lanes) }
    }

    /// The truck drives on, at this time, so many seconds into its leg: to the next mouth or to the end.
    fn drive_on(&self, truck: usize, drive: Drive, at: f64, into_s: f64) -> Doing {
        let (leg_s, passages) = self.leg(truck, drive.loaded);
        match passages.get(drive.passage) {
            Some(next) => Doing::ToMouth { drive, until: at + (next.after_s - into_s) * drive.factor },
            None if drive.loaded => Doing::ToDump { until: at + (leg_s - into_s) * drive.factor },
            None => Doing::ToFill { until: at + (leg_s - into_s) * drive.factor },
        }
    }

    fn set_out(&mut self, truck: usize, loaded: bool, at: f64) {
        let factor = self.spread.travel.factor(&mut self.dice[truck]);
        self.doing[truck] = self.drive_on(truck, Drive { loaded, factor, passage: 0 }, at, 0.0);
    }

    fn enter(&mut self, truck: usize, drive: Drive, at: f64) {
        let take_s = self.leg(truck, drive.loaded).1[drive.passage].take_s;
        self.doing[truck] = Doing::InLane { drive, until: at + take_s * drive.factor };
    }

    /// Everything at the lanes up to now, in order of time; who leaves goes before who comes.
    fn meet(&mut self, now: f64) {
        loop {
            let due = self.doing.iter().enumerate().filter_map(|(i, doing)| match *doing {
                Doing::InLane { until, .. } if until <= now => Some((until, 0, i)),
                Doing::ToMouth { until, .. } if until <= now => Some((until, 1, i)),
                _ => None,
            });
            let first = due.min_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
            let Some((at, _, truck)) = first else { return };
            match self.doing[truck] {
                Doing::ToMouth { drive, .. } => {
                    let passage = self.leg(truck, drive.loaded).1[drive.passage];
                    if self.lanes[passage.lane].arrive(truck, passage.forward) {
                        self.enter(truck, drive, at);
                    } else {
                        self.doing[truck] = Doing::AtMouth { drive };
                    }
                }
                Doing::InLane { drive, .. } => {
                    let passage = self.leg(truck, drive.loaded).1[drive.passage];
                    let on = Drive { passage: drive.passage + 1, ..drive };
                    self.doing[truck] = self.drive_on(truck, on, at, passage.after_s + passage.take_s);
                    for next in self.lanes[passage.lane].leave(truck) {
                        if let Doing::AtMouth { drive } = self.doing[next] {
                            self.enter(next, drive, at);
                        }
                    }
                }
                _ => return,
            }
        }
    }

    /// Everything that ends by now by the clock.
    fn clocks(&mut self, now: f64) {
        self.meet(now);
        for i in 0..self.doing.len() {
            let truck = &self.crew.trucks[i];
            let dice = &mut self.dice[i];
            self.doing[i] = match self.doing[i] {
                Doing::ToDump { until } if until <= now => Doing::AwaitingDump { since: until },
                Doing::ToFill { until } if until <= now => Doing::AwaitingFill { since: until },
                Doing::DumpHandling { until } if until <= now => Doing::Dumping {
                    from: until,
                    left_gal: self.carries_gal[i],
                    gpm: truck.dump_gpm / self.spread.service.factor(dice),
                },
                Doing::FillHandling { until } if until <= now => Doing::Filling {
                    from: until,
                    left_gal: truck.load_gal,
                    gpm: truck.intake_gpm / self.spread.service.factor(dice),
                },
                same => same,
            };
        }
        // First come, first served.
        let mut waiting: Vec<(f64, usize)> = Vec::new();
        for (i, doing) in self.doing.iter().enumerate() {
            if let Doing::AwaitingDump { since } | Doing::AwaitingFill { since } = doing {
                waiting.push((*since, i));
            }
        }
        waiting.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        for (since, i) in waiting {
            let truck: &Truck = &self.crew.trucks[i];
            let at_dump = matches!(self.doing[i], Doing::AwaitingDump { .. });
            let (free, handling_s) = if at_dump {
                (&mut self.dump_free, truck.dump_handling_s)
            } else {
                (&mut self.fill_free[truck.source], truck.fill_handling_s)
            };
            let earliest = (0..free.len()).min_by(|a, b| free[*a].total_cmp(&free[*b]));
            let Some(berth) = earliest else { continue };
            let begin = since.max(free.swap_remove(berth));
            let until = begin + handling_s * self.spread.handling.factor(&mut self.dice[i]);
            self.doing[i] =
                if at_dump { Doing::DumpHandling { until } } else { Doing::FillHandling { until } };
        }
    }

    /// Water from the sources into the trucks: those at one source share its flow evenly, none
    /// takes more than it can.
    fn fill(&mut self, next: f64) {
        for s in 0..self.crew.sources.len() {
            let mut takers: Vec<(usize, f64, f64, f64)> = Vec::new();
            for (i, doing) in self.doing.iter().enumerate() {
                if let Doing::Filling { from, left_gal, gpm } = *doing
                    && self.crew.trucks[i].source == s
                {
                    takers.push((i, from, left_gal, gpm));
                }
            }
            takers.sort_by(|a, b| a.3.total_cmp(&b.3));
            let mut spare_gpm = self.crew.sources[s].flow_gpm;
            let mut others = takers.len() as f64;
            for (i, from, left_gal, gpm) in takers {
                let share = gpm.min(spare_gpm / others);
                spare_gpm -= share;
                others -= 1.0;
                let can = (share * (next - from).max(0.0) / 60.0).min(left_gal);
                let got = can.min(self.volume_left[s]);
                self.volume_left[s] -= got;
                let truck = &self.crew.trucks[i];
                let gave_out = got < can;
                self.carries_gal[i] = truck.load_gal - (left_gal - got);
                self.doing[i] = if gave_out && self.carries_gal[i] < 1.0 {
                    self.fill_free[s].push(next);
                    Doing::Laid
                } else if gave_out || got >= left_gal {
                    // With what it has got, where the source gave out.
                    let done = from + 60.0 * got / share.max(1e-9);
                    self.fill_free[s].push(done);
                    self.set_out(i, true, done);
                    continue;
                } else {
                    Doing::Filling { from: next, left_gal: left_gal - got, gpm }
                };
            }
        }
    }

    /// Water from the trucks into the tank, as far as it has room, and out of it.
    fn pour(&mut self, next: f64, draw_gal: f64) {
        let offers: Vec<(usize, f64, f64, f64)> = (0..self.doing.len())
            .filter_map(|i| match self.doing[i] {
                Doing::Dumping { from, left_gal, gpm } => {
                    let offer = (gpm * (next - from).max(0.0) / 60.0).min(left_gal);
                    Some((i, from, left_gal, offer))
                }
                _ => None,
            })
            .collect();
        let offered: f64 = offers.iter().map(|o| o.3).sum();
        let room = (self.crew.room_gal - self.level_gal + draw_gal).max(0.0);
        let share = if offered > room { room / offered } else { 1.0 };
        for (i, from, left_gal, offer) in offers {
            let given = offer * share;
            self.level_gal += given;
            if given >= left_gal - 1e-9 {
                let Doing::Dumping { gpm, .. } = self.doing[i] else { continue };
                let done = if share < 1.0 { next } else { from + 60.0 * left_gal / gpm };
                self.dump_free.push(done);
                self.set_out(i, false, done);
            } else if let Doing::Dumping { gpm, .. } = self.doing[i] {
                self.doing[i] = Doing::Dumping { from: next, left_gal: left_gal - given, gpm };
            }
        }
        self.level_gal -= draw_gal;
    }
}

/// Share of the replications that hold a draw, from so long before their first loads are in. A quarter of them is enough where all of it holds
/// (a true share of 85 % does so once in three thousand times) or less than half.
pub fn share_held(crew: &Crew, spread: &Spread, early_s: f64, draw_gpm: f64, replications: u32) -> f64 {
    let held = |from: u64, to: u64| {
        let all = (from..to).into_par_iter();
        all.filter(|replication| holds(crew, spread, early_s, draw_gpm, *replication)).count() as u64
    };
    let (few, all) = (u64::from(replications / 4).max(1), u64::from(replications.max(1)));
    let first = held(0, few);
    if first == few || first * 2 < few {
        return first as f64 / few as f64;
    }
    (first + held(few, all)) as f64 / all as f64
}

#[cfg(test)]
mod tests;
