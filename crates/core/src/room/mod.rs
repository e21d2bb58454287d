//! The room's geometry and figures: what seats see, what a projector's beam meets, how large a silhouette is, what hangs where. Plain
//! geometry that is exact, and questions for the people who know. Nothing here says what holds or what may be hung.

pub mod beam;
pub mod drawing;
mod figures;
pub mod labels;
mod load;
mod questions;
pub mod shadow;
pub mod sight;
pub mod solid;
mod words;

pub use figures::{BeamFigures, DoubleShadow, RoomFigures, SeatView, ShadowFigures, room_figures, seat_views};
pub use load::{BarLoad, HangLoad, bar_loads, hang_load};
pub use questions::{Fact, Question, Settled, facts_and_questions};
pub use words::{across, length, mass, mass_along, percent};
