//! What a driver does at a step of a drive.

use crate::routing::topology::Turnaround;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    Left,
    Right,
}

impl Side {
    pub(super) fn of(degrees: f64) -> Side {
        if degrees < 0.0 { Side::Left } else { Side::Right }
    }
    pub fn as_str(self) -> &'static str {
        match self {
            Side::Left => "left",
            Side::Right => "right",
        }
    }
}

/// What the driver does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Action {
    Start,
    Continue,
    Bear(Side),
    Turn(Side),
    Sharp(Side),
    TurnRound(Turnaround),
    /// The exit's number, where everybody would count the same.
    Roundabout(Option<u32>),
    /// The goal lies in it.
    EnterRoundabout,
    /// The drive began in it.
    LeaveRoundabout,
    Arrive,
}

impl Action {
    /// One word, for a sign beside the words of [`Step::instruction`].
    pub fn as_str(self) -> &'static str {
        match self {
            Action::Start => "start",
            Action::Continue => "continue",
            Action::Bear(Side::Left) => "bear_left",
            Action::Bear(Side::Right) => "bear_right",
            Action::Turn(Side::Left) => "turn_left",
            Action::Turn(Side::Right) => "turn_right",
            Action::Sharp(Side::Left) => "sharp_left",
            Action::Sharp(Side::Right) => "sharp_right",
            Action::TurnRound(_) => "turn_round",
            Action::Roundabout(_) => "roundabout",
            Action::EnterRoundabout => "enter_roundabout",
            Action::LeaveRoundabout => "leave_roundabout",
            Action::Arrive => "arrive",
        }
    }
}
