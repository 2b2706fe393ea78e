//! A plan while it is worked out: events as lines of JSON.

use crate::finding::Refusal;
use crate::output::geojson;
use crate::plan::{Progress, Watch};
use crate::serve::tell::Trouble;
use crate::serve::work::{Stop, Waiting};
use axum::body::Bytes;
use futures_core::Stream;
use serde::Serialize;
use serde_json::value::RawValue;
use std::convert::Infallible;
use std::pin::Pin;
use std::task::{Context, Poll};
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender};
use utoipa::ToSchema;

/// One line of the stream.
#[derive(Serialize, ToSchema)]
#[serde(tag = "event", rename_all = "lowercase")]
pub enum Event<'a> {
    /// First: the answer by the closed form alone, as `simulate: false` gives it.
    Ceilings {
        #[schema(value_type = Object)]
        answer: &'a RawValue,
    },
    /// One more case is simulated.
    Simulated {
        done: usize,
        of: usize,
        /// Number of the option in `ceilings`; null where it is not shown there.
        option: Option<usize>,
        /// Null where it is less than what every option so far sustains.
        sustained_flow_gpm: Option<f64>,
    },
    /// Last: the answer, the bytes that are written without a stream.
    Answer {
        #[schema(value_type = Object)]
        answer: &'a RawValue,
    },
    /// Last where it cannot go on.
    Refused {
        #[serde(flatten)]
        trouble: Trouble,
    },
}

impl Event<'_> {
    fn line(&self) -> Bytes {
        // Plain numbers and text: writing them does not fail.
        let mut line = serde_json::to_vec(self).unwrap_or_default();
        line.push(b'\n');
        line.into()
    }
}

/// A text of JSON as a part of another, unchanged.
fn raw(text: &str) -> Option<&RawValue> {
    serde_json::from_str(text.trim_end()).ok()
}

/// Looks on for one client.
pub struct Teller {
    pub stop: Stop,
    /// None where only the answer is wanted.
    pub lines: Option<UnboundedSender<Bytes>>,
}

impl Teller {
    fn send(&self, event: &Event) {
        if let Some(lines) = &self.lines {
            // Whoever has gone calls the plan off besides.
            let _ = lines.send(event.line());
        }
    }

    /// The last event.
    pub fn close(&self, found: &Result<String, Refusal>) {
        match found {
            Ok(text) => {
                if let Some(answer) = raw(text) {
                    self.send(&Event::Answer { answer });
                }
            }
            Err(refusal) => self.send(&Event::Refused { trouble: Trouble::from(refusal) }),
        }
    }
}

impl Watch for Teller {
    fn called_off(&self) -> bool {
        self.stop.now()
    }

    fn listens(&self) -> bool {
        self.lines.is_some()
    }

    fn tell(&self, progress: Progress) {
        match progress {
            Progress::Ceilings(answer) => {
                let text = geojson::write(answer);
                if let Some(answer) = raw(&text) {
                    self.send(&Event::Ceilings { answer });
                }
            }
            Progress::Simulated { done, of, option, flow } => {
                self.send(&Event::Simulated {
                    done,
                    of,
                    option,
                    sustained_flow_gpm: flow.map(|flow| flow.0),
                });
            }
        }
    }
}

/// The lines as a body. The plan is called off when it is dropped.
pub struct Lines {
    lines: UnboundedReceiver<Bytes>,
    _waiting: Waiting,
}

impl Lines {
    pub fn new(lines: UnboundedReceiver<Bytes>, waiting: Waiting) -> Lines {
        Lines { lines, _waiting: waiting }
    }
}

impl Stream for Lines {
    type Item = Result<Bytes, Infallible>;
    fn poll_next(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        self.lines.poll_recv(context).map(|line| line.map(Ok))
    }
}
