//! One incident, best options, everything explained.
//!
//! `request` resolves files and flags into a problem (`timing` puts a drill's times into it, `scenario` is the file as written, `setting` what
//! a single drive needs of it, `need` the flow it asks for); `ground` puts fleet and sites on the road;
//! `reach` works out the travel times between fill sites and dump candidates; `options` chooses
//! who fills where; `cases` puts the choices on real
//! loops as shuttles; `solve` goes through all this, ranks, and lets `watch` look on; `explain` tells an option;
//! `answer` is what comes out; `terrain` is roads made ready for many requests,
//! `around` what they search for again and again, and `known` what was worked out of it; `circulation` tells the way round; `dump_facts` and
//! `staging` look at the dump site, `trade_off` compares them; `reasons` tells why not;
//! `in_time` is an option over time and in trouble, `call` what to call for. `rig` answers for a dump rig
//! alone, without roads.

pub mod answer;
mod around;
pub mod bridges;
pub mod call;
pub mod cases;
pub mod circulation;
pub mod dump_facts;
mod explain;
pub mod fireground;
pub mod ground;
pub mod in_time;
mod known;
pub mod muster;
pub mod need;
pub mod options;
pub mod reach;
pub mod reasons;
pub mod request;
pub mod rig;
mod scenario;
pub mod setting;
mod solve;
pub mod staging;
pub mod terrain;
pub mod timing;
pub mod trade_off;
pub mod watch;
mod what_if;

pub use answer::Answer;
pub use cases::LOOP_EFFORT;
pub use request::{Overrides, Problem};
pub use setting::{RoadInputs, Setting};
pub use solve::{plan, plan_on};
pub use terrain::Terrain;
pub use watch::{Progress, Watch};
