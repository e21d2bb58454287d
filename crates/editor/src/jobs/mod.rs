//! Background work: long jobs that can be stopped, file dialogs, saving unsaved work for recovery, reading recordings.

mod autosave;
pub mod dialogs;
mod file_purpose;
mod guide_peaks;
mod job;
mod job_result;
mod recent;
mod recovery;

pub use autosave::{AUTOSAVE_SECS, Autosaver};
pub use file_purpose::{ExportKind, FilePurpose, Leaving};
pub use guide_peaks::{GuidePeaks, GuideRead, facts as guide_facts, read as read_guide};
pub use job::{Job, JobContext};
pub use job_result::JobResult;
pub use recent::{recent, remember};
pub use recovery::{Recovered, forget, own_place, place, recovered};
