//! Undo and redo, without limit within a session.

use super::{Edit, EditError, Selection};
use crate::show::Show;

/// One named step.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// What was done, such as "Shift 12 cues by 2 bars".
    pub name: String,
    /// The change.
    pub edit: Edit,
    /// What was selected before, so that undo can restore it.
    pub selected: Selection,
}

/// The steps done and the steps undone.
#[derive(Debug, Clone, Default)]
pub struct History {
    done: Vec<Step>,
    undone: Vec<Step>,
    /// How many steps were done when the show was last saved; `None` if undo and redo can no longer reach that state.
    saved: Option<usize>,
}

impl History {
    /// A history for a show that has just been loaded or made.
    pub fn new() -> History {
        History { saved: Some(0), ..History::default() }
    }

    /// Applies an edit and records it. Undone steps are discarded. An edit that changes nothing is not recorded.
    ///
    /// # Errors
    /// As [`Edit::apply`], or [`EditError::Invalid`] when the result would not be a valid show; then nothing has changed.
    pub fn commit(&mut self, show: &mut Show, name: &str, edit: Edit, selected: Selection) -> Result<(), EditError> {
        if edit.is_nothing() {
            return Ok(());
        }
        edit.apply(show)?;
        // A move cannot break an invariant. After any other edit the whole show is validated.
        if !matches!(edit, Edit::Move { .. })
            && let Err(why) = show.validate()
        {
            edit.revert(show)?;
            return Err(why.into());
        }
        if self.saved.is_some_and(|saved| saved > self.done.len()) {
            self.saved = None;
        }
        self.undone.clear();
        self.done.push(Step { name: name.to_owned(), edit, selected });
        Ok(())
    }

    /// Undoes the last step; returns its name and what was selected before it.
    ///
    /// # Errors
    /// As [`Edit::revert`]; then nothing has changed.
    pub fn undo(&mut self, show: &mut Show) -> Result<Option<(String, Selection)>, EditError> {
        let Some(step) = self.done.last() else { return Ok(None) };
        step.edit.revert(show)?;
        let told = (step.name.clone(), step.selected.clone());
        self.undone.extend(self.done.pop());
        Ok(Some(told))
    }

    /// Redoes the step that was undone last; returns its name.
    ///
    /// # Errors
    /// As [`Edit::apply`]; then nothing has changed.
    pub fn redo(&mut self, show: &mut Show) -> Result<Option<String>, EditError> {
        let Some(step) = self.undone.last() else { return Ok(None) };
        step.edit.apply(show)?;
        let name = step.name.clone();
        self.done.extend(self.undone.pop());
        Ok(Some(name))
    }

    /// The name of the step that undo would revert.
    pub fn undo_name(&self) -> Option<&str> {
        self.done.last().map(|s| s.name.as_str())
    }

    /// The name of the step that redo would apply.
    pub fn redo_name(&self) -> Option<&str> {
        self.undone.last().map(|s| s.name.as_str())
    }

    /// How many steps lie between the show and what was last saved; all that were done, if that can no longer be reached.
    pub fn unsaved_steps(&self) -> usize {
        self.saved.map_or(self.done.len(), |saved| saved.abs_diff(self.done.len()))
    }

    /// Records that the show has been saved.
    pub fn mark_saved(&mut self) {
        self.saved = Some(self.done.len());
    }

    /// Whether the show differs from what was last saved.
    pub fn is_changed(&self) -> bool {
        self.saved != Some(self.done.len())
    }

    /// How many steps can be undone.
    pub fn depth(&self) -> usize {
        self.done.len()
    }
}
