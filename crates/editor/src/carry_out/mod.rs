//! The only place that changes anything: requests from screens, keys and jobs are carried out here.

mod commands;
mod files;
mod films;
mod new_cue;
mod requests;
mod services;
mod start;
