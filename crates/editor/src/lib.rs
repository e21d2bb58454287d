//! The editor: screens over the core.
//!
//! Arrows run one way: [`screens`] draw what they are given and put [`request`]s down; `frame` draws them and hands what they ask
//! for to `carry_out`, the one place that changes anything. `jobs` are what goes on beside the screen, `widgets` what several
//! screens are made of, [`commands`] the table of commands as data.

mod by_ear;
mod carry_out;
pub mod commands;
pub mod document;
mod editor;
mod frame;
pub mod jobs;
mod playback;
pub mod rehearsal;
pub mod request;
pub mod screens;
pub mod widgets;
mod window;

pub use editor::Editor;
pub use screens::Screen;
pub use window::{open, window};
