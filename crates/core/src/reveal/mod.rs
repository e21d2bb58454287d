//! The physics of the moment: how the fabric falls, what the release circuit delivers, how bright the picture is, what
//! hangs overhead, how late sound is.
//!
//! These are planning estimates, never a certificate or a verdict: people must still measure and ask the competent person.

mod electrics;
mod fall;
mod light;
mod sound;
mod uncertainty;
mod weight;

pub use electrics::{
    CircuitFigures, NoSuchCable, USUAL_RATED_C, USUAL_SAG, WorstCase, circuit_figures, copper_factor, hot_pull_in_v,
    ohms_per_metre_20c, unit_volts, worst_case,
};
pub use fall::{
    BROADSIDE, EXPECTED_DRAG, FallTime, FallsPast, G, LEVEL, drag_fall_secs, drag_height, fall_time, fallen,
    free_fall_secs, terminal_speed, unfurl_secs,
};
pub use light::{
    FOOT_CANDLE, FOOT_LAMBERT, LightFigures, OtherLight, impossible_gain, light_figures, light_figures_with, lumens_for,
};
pub use sound::{sound_delay, speed_of_sound};
pub use uncertainty::{GUESSED, STATED, Uncertainty, chance_within, student, student_quantile};
pub use weight::{WeightFigures, unit_places, weight_figures};
