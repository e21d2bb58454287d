//! How an export tells where it is and hears that it shall stop.

/// Where an export is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExportStep {
    /// The file is being made.
    Making,
    /// It is being written.
    Writing,
}

/// Whoever waits for an export. Asked often, from the thread that makes it.
pub trait Progress {
    /// Takes note of a step; `false` stops the export, and then nothing is written.
    fn go_on(&mut self, step: ExportStep) -> bool;
}

/// Waits without a word.
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
