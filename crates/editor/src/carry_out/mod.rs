//! The one place that changes anything: what screens, keys and jobs ask for is carried out here.

mod commands;
mod files;
mod new_cue;
mod requests;
mod services;
