//! The editor: screens on top of the core.
//!
//! Dependencies go one way: [`screens`] draw what they are given and record [`request`]s. `frame` draws them and passes their
//! requests to `carry_out`, the only place that changes anything. `jobs` is background work, `widgets` holds parts that several
//! screens share, and [`commands`] is the table of commands.

mod by_ear;
mod carry_out;
pub mod commands;
pub mod document;
mod drawing_backend;
mod editor;
mod film;
mod frame;
pub mod help;
pub mod jobs;
mod playback;
pub mod rehearsal;
pub mod request;
pub mod screens;
pub mod widgets;
mod window;

pub use editor::Editor;
pub use playback::Playback;
pub use screens::Screen;
pub use window::{keep_contacts, open, window};
