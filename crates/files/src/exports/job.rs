//! How an export reports its progress and learns that it should stop.

/// The current step of an export.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExportStep {
    /// The file is being made.
    Making,
    /// It is being written.
    Writing,
}

/// Whoever waits for an export. Called often, on the thread that makes it.
pub trait Progress {
    /// Reports the current step. Returning `false` stops the export, and no file is written.
    fn go_on(&mut self, step: ExportStep) -> bool;
}

/// Ignores progress and never stops the export.
#[derive(Debug, Clone, Copy, Default)]
pub struct Silent;

impl Progress for Silent {
    fn go_on(&mut self, _: ExportStep) -> bool {
        true
    }
}

impl<F: FnMut(ExportStep) -> bool> Progress for F {
    fn go_on(&mut self, step: ExportStep) -> bool {
        self(step)
    }
}
