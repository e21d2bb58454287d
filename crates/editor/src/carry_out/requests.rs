//! Carries out what screens ask for.

use super::new_cue::put_cue;
use crate::by_ear::EarRequest;
use crate::editor::Editor;
use crate::rehearsal::RehearsalRequest;
use crate::request::{Requests, Then, UiRequest};
use crate::screens::Screen;
use crate::screens::windows::HelpWindow;
use letfall_core::edit::{Edit, EditError, Selection};

impl Editor {
    /// Carries out all requests in order. Returns whether there were any.
    pub(crate) fn carry_out_all(&mut self, requests: &mut Requests) -> bool {
        let any = !requests.is_empty();
        for request in requests.take() {
            self.carry_out(request);
        }
        any
    }

    /// Carries out one request.
    pub fn carry_out(&mut self, request: UiRequest) {
        match request {
            UiRequest::Commit { name, edit, then } => self.commit(&name, edit, then),
            UiRequest::Select(selection) => self.document.selection = selection,
            UiRequest::SelectAndSay(selection) => {
                self.document.selection = selection;
                let words = self.document.selection_words();
                self.document.say(format!("Selected {words}"));
            }
            UiRequest::AddService => self.add_service(),
            UiRequest::RemoveService(name) => self.remove_service(&name),
            UiRequest::Pick(pick) => self.select(&pick),
            UiRequest::Repeat { bars, times } => self.document.repeat(bars, times),
            UiRequest::ChooseCue { track, at } => self.choose_cue(track, at),
            UiRequest::PutCue { track, at, does } => put_cue(&mut self.document, track, at, does),
            UiRequest::Playhead(at) => self.document.playhead = at,
            UiRequest::ShowService(at) => self.show_service(at),
            UiRequest::Say(words) => self.document.say(words),
            UiRequest::Fail(words) => self.document.fail(words),
            UiRequest::Command(command) => self.command(command),
            UiRequest::Start(choice) => self.start_with(choice),
            UiRequest::File(purpose) => self.ask_for_file(purpose),
            UiRequest::RigTable(table) => {
                self.screen = Screen::Rig;
                self.screens.rig.show_table(table);
            }
            UiRequest::HelpPage(page) => self.screens.help = Some(HelpWindow::Page(page)),
            UiRequest::HelpField(table, field) => self.screens.help = Some(HelpWindow::Field(table, field)),
            UiRequest::Reveal(at) => self.screens.score.reveal(at),
            UiRequest::Ear(request) => self.ear(request),
            UiRequest::Film(request) => self.film(request),
            UiRequest::Rehearsal(request) => self.rehearsal_request(request),
            UiRequest::Report(performed) => {
                self.screens.paper.fill_in(*performed);
                self.screen = Screen::Paper;
            }
            UiRequest::SecondWindow(open) => self.screens.rehearse.second_window = open,
        }
    }

    pub(super) fn commit(&mut self, name: &str, edit: Result<Edit, EditError>, then: Then) {
        if !self.document.commit(name, edit) {
            // A screen may already show the edit as done, so make it show the real values again.
            self.screens.forget_drafts();
            return;
        }
        match then {
            Then::Nothing => {}
            Then::Select(selection) => self.document.selection = selection,
            Then::Say(words) => self.document.say(words),
            Then::Carried(lines) => self.screens.services.set_carried(lines),
            Then::WrittenDown => self.screens.rehearse.written_down(),
            Then::ShowSong => self.screens.score.refit(),
        }
    }

    /// Shows another service.
    pub(super) fn show_service(&mut self, at: usize) {
        self.document.service = at;
        self.document.selection = Selection::none();
        self.document.prepare();
        self.screens.score.refit();
    }

    /// Carries out a request about bars by ear.
    fn ear(&mut self, request: EarRequest) {
        let wake = self.wake();
        if request == EarRequest::Pads {
            let mut ports = (self.rehearsal.ports)();
            let wanted = self.rehearsal.options().input.clone();
            return self.playback.set_pads(&mut self.document, &mut *ports, &wanted, wake);
        }
        let bars = |editor: &Editor| editor.document.current().map(|s| s.song.bars);
        let before = bars(self);
        self.by_ear.request(request, &mut self.document, &mut self.playback.taps, wake);
        if bars(self) != before {
            self.screens.score.refit();
        }
    }

    /// Carries out a request about the rehearsal.
    pub(crate) fn rehearsal_request(&mut self, request: RehearsalRequest) {
        if request == RehearsalRequest::Toggle {
            self.screens.rehearse.close_page();
        }
        let wake = self.wake();
        self.rehearsal.request(request, &mut self.document, &mut self.playback, &wake);
    }
}
