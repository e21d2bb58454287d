//! One prepared plan for each service: everything that is worked out from a show, made in one place and never changed.
//!
//! Screen, file, paper, wire and command line take a [`Prepared`] and work nothing out for themselves, so they cannot
//! disagree. Whoever holds one keeps it: a run goes on with the plan that it was started with, whatever is edited meanwhile.

mod facts;
mod plan;
mod show;

pub use facts::OutsideFacts;
pub use plan::{PrepareError, Prepared, TrackRows};
pub use show::PreparedShow;
