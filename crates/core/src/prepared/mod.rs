//! One prepared plan for each service: everything worked out from a show, in one place, and never changed.
//!
//! Screen, file export, paper, live output and command line all use a [`Prepared`] and work out nothing themselves, so they
//! cannot disagree. A run keeps the plan that it was started with, whatever is edited meanwhile.

mod facts;
mod plan;
mod show;

pub use facts::OutsideFacts;
pub use plan::{PrepareError, Prepared, TrackRows};
pub use show::PreparedShow;
