//! Asking for a file: the system's own dialog where a service for it runs, a typed path where none does.

use std::path::PathBuf;

/// What is asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Question {
    /// The dialog's title.
    pub title: &'static str,
    /// A file to write, instead of one to read.
    pub to_write: bool,
    /// The ending of the file, without the dot, and what such files are.
    pub kind: (&'static str, &'static str),
    /// The path to begin with: folder and, for a file to write, name.
    pub near: PathBuf,
}

/// What came of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DialogResult {
    /// A file.
    Path(PathBuf),
    /// The person changed their mind.
    Nothing,
    /// No dialog can be had here: let the path be typed.
    NoService,
}

/// Waits for the answer; run beside the screen.
pub type Answer = Box<dyn FnOnce() -> DialogResult + Send>;

/// Where dialogs come from.
pub trait Dialogs {
    /// Opens a dialog; called on the screen's own thread, as some systems demand.
    fn ask(&self, question: Question) -> Answer;
}

/// The system's own.
pub struct Native;

impl Dialogs for Native {
    fn ask(&self, question: Question) -> Answer {
        let (ending, what) = question.kind;
        let mut dialog = rfd::AsyncFileDialog::new().set_title(question.title).add_filter(what, &[ending]);
        if let Some(folder) = question.near.parent().filter(|f| f.is_dir()) {
            dialog = dialog.set_directory(folder);
        }
        if question.to_write {
            if let Some(name) = question.near.file_name() {
                dialog = dialog.set_file_name(name.to_string_lossy());
            }
            let answer = dialog.save_file();
            Box::new(move || wait(answer))
        } else {
            let answer = dialog.pick_file();
            Box::new(move || wait(answer))
        }
    }
}

fn wait(answer: impl Future<Output = Option<rfd::FileHandle>>) -> DialogResult {
    if !letfall_platform::has_dialog_service() {
        return DialogResult::NoService;
    }
    pollster::block_on(answer).map_or(DialogResult::Nothing, |file| DialogResult::Path(file.path().to_owned()))
}

/// None: every path is typed. For tests, and for whoever wants it.
pub struct Typed;

impl Dialogs for Typed {
    fn ask(&self, _: Question) -> Answer {
        Box::new(|| DialogResult::NoService)
    }
}
