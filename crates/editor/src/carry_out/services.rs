//! Adding services to a show and removing them.

use crate::editor::Editor;
use letfall_core::edit::{Edit, Selection};
use letfall_core::show::{Service, Song};
use letfall_core::time::{GridPlan, Metre, Tempo};

impl Editor {
    /// Adds a service with the song of the one on screen, or with 64 bars of 4/4 at 120 if there is none, and shows it.
    pub(super) fn add_service(&mut self) {
        let document = &mut self.document;
        let song = document.current().map(|s| s.song.clone()).or_else(|| {
            let tempo = Tempo::quarters_per_minute(120.0).ok()?;
            let grid = GridPlan::steady(Metre::common(), tempo);
            Some(Song::new("Song".to_owned(), 64, grid))
        });
        let Some(song) = song else { return };
        let taken = |name: &String| document.show.service(name).is_some();
        let mut names = (1..).map(|n| if n == 1 { "New service".to_owned() } else { format!("New service {n}") });
        let Some(name) = names.find(|n| !taken(n)) else { return };
        let at = document.show.services.len();
        let service = Box::new(Service::new(&name, song));
        if document.commit(&format!("Add {name}"), Ok(Edit::PutService { at, service, put: true })) {
            self.show_service(at);
        }
    }

    /// Removes a service and its cues.
    pub(super) fn remove_service(&mut self, name: &str) {
        let document = &mut self.document;
        let Some(at) = document.show.services.iter().position(|s| s.name == name) else { return };
        let service = Box::new(document.show.services[at].clone());
        document.selection = Selection::none();
        document.commit(&format!("Remove {name}"), Ok(Edit::PutService { at, service, put: false }));
    }
}
