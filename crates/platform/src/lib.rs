//! Everything that differs between operating systems, behind functions that look the same on each: folders, file locks,
//! permissions of new files, thread priority, preventing sleep. No other crate asks which system it runs on.

mod apart;
#[cfg(feature = "desktop")]
mod awake;
mod console;
#[cfg(feature = "desktop")]
mod dialog_service;
mod folders;
mod keys;
mod limited;
mod lock;
#[cfg(feature = "midi")]
mod own_port;
mod permissions;
mod priority;
mod sleep;
mod sound_card;
mod system_calls;
mod time_of_day;

pub use apart::apart_from_terminal;
#[cfg(feature = "desktop")]
pub use awake::Awake;
pub use console::leave_own_console;
#[cfg(feature = "desktop")]
pub use dialog_service::has_dialog_service;
pub use folders::program_folder;
pub use keys::COMMAND_KEY;
pub use limited::{has_limits, limited};
pub use lock::FileLock;
#[cfg(feature = "midi")]
pub use own_port::{HAS_OWN_PORTS, own_port};
pub use permissions::{like_a_new_file, may_pass};
pub use priority::{Priority, Urgency, raise_thread_priority};
pub use sleep::time_asleep;
pub use sound_card::card_mark;
pub use time_of_day::{time_of_day, time_of_day_at, utc_stamp};
