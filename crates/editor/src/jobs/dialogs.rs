//! Asking for a file: with the system's dialog if it has a service for that, otherwise by typing a path.

use std::path::PathBuf;

/// What to ask for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Question {
    /// The dialog's title.
    pub title: &'static str,
    /// Whether the file is to be written rather than read.
    pub to_write: bool,
    /// The file extension without the dot, and what such files are called.
    pub kind: (&'static str, &'static str),
    /// The path to start from: a folder and, for a file to write, a name.
    pub near: PathBuf,
}

/// The result of asking.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DialogResult {
    /// The chosen file.
    Path(PathBuf),
    /// The user cancelled.
    Nothing,
    /// This system has no dialog, so the path must be typed.
    NoService,
}

/// Waits for the answer. It must run in the background.
pub type Answer = Box<dyn FnOnce() -> DialogResult + Send>;

/// A source of file dialogs.
pub trait Dialogs {
    /// Opens a dialog. It must be called on the main thread, because some systems require that.
    fn ask(&self, question: Question) -> Answer;
}

/// The system's own dialogs.
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

/// No dialogs: every path is typed. Used by tests.
pub struct Typed;

impl Dialogs for Typed {
    fn ask(&self, _: Question) -> Answer {
        Box::new(|| DialogResult::NoService)
    }
}
