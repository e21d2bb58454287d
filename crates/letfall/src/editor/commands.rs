//! Every command once: its words, its shortcut, what it does. Menus, keys and the searchable list all read this.

use super::Editor;
use super::asking::{Asking, Export, Leaving};
use super::document::Document;
use super::theme::Theme;
use egui::{Key, KeyboardShortcut, Modifiers};
use letfall_core::edit::{self, By, Pick, Selection};
use letfall_core::show::Kind;
use letfall_core::time::{SongSpan, SongTime, TickSpan};

/// What can be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)] // each says itself in `words`
pub enum Command {
    New,
    Open,
    Save,
    SaveAs,
    ExportMidi,
    ExportReleases,
    ExportPaper,
    ExportTable,
    ExportClick,
    ExportTimecode,
    TakeGrid,
    ChooseGuide,
    FindBars,
    Play,
    HalfSpeed,
    RoundSection,
    HearClick,
    Tap,
    Run,
    StopAll,
    Undo,
    Redo,
    Duplicate,
    Delete,
    PasteSamePlace,
    SelectAll,
    SelectNone,
    SelectLabels,
    SelectKind,
    SelectSection,
    NudgeEarlier,
    NudgeLater,
    BarEarlier,
    BarLater,
    FineEarlier,
    FineLater,
    Quantize,
    Repeat,
    Offset,
    Stretch,
    Rest,
    FitSelection,
    FitSection,
    FitSong,
    Closer,
    Wider,
    PreviousCue,
    NextCue,
    SwitchTheme,
    Larger,
    Smaller,
    FullScreen,
    CommandList,
}

const CMD: Modifiers = Modifiers::COMMAND;
const CMD_SHIFT: Modifiers = Modifiers::COMMAND.plus(Modifiers::SHIFT);

impl Command {
    /// All of them, in the order of the list.
    pub const ALL: [Command; 53] = [
        Command::New,
        Command::Open,
        Command::Save,
        Command::SaveAs,
        Command::ExportMidi,
        Command::ExportReleases,
        Command::ExportPaper,
        Command::ExportTable,
        Command::ExportClick,
        Command::ExportTimecode,
        Command::TakeGrid,
        Command::ChooseGuide,
        Command::FindBars,
        Command::Play,
        Command::HalfSpeed,
        Command::RoundSection,
        Command::HearClick,
        Command::Tap,
        Command::Run,
        Command::StopAll,
        Command::Undo,
        Command::Redo,
        Command::Duplicate,
        Command::Delete,
        Command::PasteSamePlace,
        Command::SelectAll,
        Command::SelectNone,
        Command::SelectLabels,
        Command::SelectKind,
        Command::SelectSection,
        Command::NudgeEarlier,
        Command::NudgeLater,
        Command::BarEarlier,
        Command::BarLater,
        Command::FineEarlier,
        Command::FineLater,
        Command::Quantize,
        Command::Repeat,
        Command::Offset,
        Command::Stretch,
        Command::Rest,
        Command::FitSelection,
        Command::FitSection,
        Command::FitSong,
        Command::Closer,
        Command::Wider,
        Command::PreviousCue,
        Command::NextCue,
        Command::SwitchTheme,
        Command::Larger,
        Command::Smaller,
        Command::FullScreen,
        Command::CommandList,
    ];

    /// What it does, in words.
    pub const fn words(self) -> &'static str {
        match self {
            Command::New => "New show",
            Command::Open => "Open a show…",
            Command::Save => "Save",
            Command::SaveAs => "Save as…",
            Command::ExportMidi => "Export this service's MIDI file…",
            Command::ExportReleases => "Export this service's MIDI file with releases…",
            Command::ExportPaper => "Export this service's pages…",
            Command::ExportTable => "Export this service's table…",
            Command::ExportClick => "Export this service's click…",
            Command::ExportTimecode => "Export this service's timecode…",
            Command::TakeGrid => "Take the song's bars and tempo from a MIDI file…",
            Command::ChooseGuide => "Choose the song's guide recording…",
            Command::FindBars => "Find the song's bars in its guide recording",
            Command::Play => "Play or stop",
            Command::HalfSpeed => "Play at half speed, pitch kept",
            Command::RoundSection => "Play round and round in this section",
            Command::HearClick => "Hear a click on every beat",
            Command::Tap => "Tap a beat",
            Command::Run => "Rehearse: start from the playhead, or stop",
            Command::StopAll => "Rehearse: stop all",
            Command::Undo => "Undo",
            Command::Redo => "Redo",
            Command::Duplicate => "Duplicate, one bar later",
            Command::Delete => "Delete cues",
            Command::PasteSamePlace => "Paste at the same bar and beat",
            Command::SelectAll => "Select all cues",
            Command::SelectNone => "Select nothing",
            Command::SelectLabels => "Select by label or bar…",
            Command::SelectKind => "Select all of the selected kinds",
            Command::SelectSection => "Select all in this section",
            Command::NudgeEarlier => "Move one beat earlier",
            Command::NudgeLater => "Move one beat later",
            Command::BarEarlier => "Move one bar earlier",
            Command::BarLater => "Move one bar later",
            Command::FineEarlier => "Move 10 ms earlier",
            Command::FineLater => "Move 10 ms later",
            Command::Quantize => "Quantize to beats",
            Command::Repeat => "Repeat every so many bars…",
            Command::Offset => "Offset by bars, beats or time…",
            Command::Stretch => "Stretch…",
            Command::Rest => "Rest or wake cues",
            Command::FitSelection => "Show the selection",
            Command::FitSection => "Show this section",
            Command::FitSong => "Show the whole song",
            Command::Closer => "Closer",
            Command::Wider => "Wider",
            Command::PreviousCue => "Playhead to the cue before",
            Command::NextCue => "Playhead to the next cue",
            Command::SwitchTheme => "Dark or paper",
            Command::Larger => "Larger letters",
            Command::Smaller => "Smaller letters",
            Command::FullScreen => "Full screen",
            Command::CommandList => "All commands",
        }
    }

    /// Its keys: the platform's own where it has some.
    pub fn shortcut(self) -> Option<KeyboardShortcut> {
        let keys = |modifiers, key| Some(KeyboardShortcut::new(modifiers, key));
        match self {
            Command::New => keys(CMD, Key::N),
            Command::Open => keys(CMD, Key::O),
            Command::Save => keys(CMD, Key::S),
            Command::SaveAs => keys(CMD_SHIFT, Key::S),
            Command::ExportMidi => keys(CMD, Key::E),
            Command::ExportPaper => keys(CMD, Key::P),
            Command::Undo => keys(CMD, Key::Z),
            Command::Redo => keys(CMD_SHIFT, Key::Z),
            Command::Duplicate => keys(CMD, Key::D),
            Command::Delete => keys(Modifiers::NONE, Key::Delete),
            Command::PasteSamePlace => keys(CMD_SHIFT, Key::V),
            Command::SelectAll => keys(CMD, Key::A),
            Command::SelectNone => keys(Modifiers::NONE, Key::Escape),
            Command::SelectKind => keys(CMD_SHIFT, Key::A),
            Command::NudgeEarlier => keys(Modifiers::NONE, Key::ArrowLeft),
            Command::NudgeLater => keys(Modifiers::NONE, Key::ArrowRight),
            Command::BarEarlier => keys(Modifiers::SHIFT, Key::ArrowLeft),
            Command::BarLater => keys(Modifiers::SHIFT, Key::ArrowRight),
            Command::FineEarlier => keys(Modifiers::ALT, Key::ArrowLeft),
            Command::FineLater => keys(Modifiers::ALT, Key::ArrowRight),
            Command::Closer => keys(CMD, Key::Plus),
            Command::Wider => keys(CMD, Key::Minus),
            Command::FitSong => keys(CMD, Key::Num0),
            Command::PreviousCue => keys(Modifiers::NONE, Key::ArrowUp),
            Command::NextCue => keys(Modifiers::NONE, Key::ArrowDown),
            Command::Play => keys(Modifiers::NONE, Key::Space),
            Command::Tap => keys(Modifiers::NONE, Key::T),
            Command::FullScreen => keys(Modifiers::NONE, Key::F11),
            Command::CommandList => keys(CMD_SHIFT, Key::Space),
            _ => None,
        }
    }

    /// Does it.
    pub fn run(self, editor: &mut Editor) {
        let wake = editor.wake();
        let listen = &mut editor.listen;
        let document = &mut editor.document;
        let shift = |document: &mut Document, by: By| {
            let name = format!("Shift {{}} by {by}");
            document.with_selected(&name, |show, service, labels| edit::shift(show, service, labels, by));
        };
        match self {
            Command::New => editor.leave(Leaving::New),
            Command::Open => editor.leave(Leaving::Open),
            Command::Save => editor.save(),
            Command::SaveAs => editor.ask(Asking::SaveAs),
            Command::ExportMidi => editor.ask(Asking::Export(Export::Midi)),
            Command::ExportReleases => editor.ask(Asking::Export(Export::MidiWithReleases)),
            Command::ExportPaper => editor.ask(Asking::Export(Export::Paper)),
            Command::ExportTable => editor.ask(Asking::Export(Export::Table)),
            Command::ExportClick => editor.ask(Asking::Export(Export::Click)),
            Command::ExportTimecode => editor.ask(Asking::Export(Export::Timecode)),
            Command::TakeGrid => editor.ask(Asking::Grid),
            Command::ChooseGuide => editor.ask(Asking::Guide),
            Command::FindBars => {
                editor.by_ear.run(super::by_ear::Deed::Find, document, &mut listen.taps, wake);
            }
            Command::Play if editor.rehearse.performs() => {
                // A bump of the space bar must not end a performance.
                document.say("A performance runs: Esc stops all");
            }
            Command::Play if editor.screen == super::Screen::Rehearse => editor.rehearse.toggle(document, listen, wake),
            Command::Play => listen.toggle(document, wake),
            Command::Run => {
                editor.screen = super::Screen::Rehearse;
                editor.rehearse.toggle(document, listen, wake);
            }
            Command::StopAll => editor.rehearse.stop_all(listen),
            Command::HalfSpeed => {
                listen.half = !listen.half;
                listen.again(document, wake);
            }
            Command::RoundSection => {
                listen.looped = !listen.looped;
                listen.again(document, wake);
            }
            Command::HearClick => {
                listen.click = !listen.click;
                listen.again(document, wake);
            }
            Command::Tap => listen.tap(document),
            Command::Undo => document.undo(),
            Command::Redo => document.redo(),
            Command::Duplicate => document.repeat(1, 1),
            Command::Delete => {
                document.with_selected("Delete {}", edit::delete);
            }
            Command::PasteSamePlace => document.paste(true),
            Command::SelectAll => select(document, &Pick::All),
            Command::SelectNone => {
                document.selection = Selection::none();
                editor.batch = None;
            }
            Command::SelectLabels => editor.batch = Some(super::batch::Batch::new(super::batch::Verb::Select)),
            Command::SelectKind => select_kinds(document),
            Command::SelectSection => select_section(document),
            Command::NudgeEarlier => shift(document, By::Beats(-1)),
            Command::NudgeLater => shift(document, By::Beats(1)),
            Command::BarEarlier => shift(document, By::Bars(-1)),
            Command::BarLater => shift(document, By::Bars(1)),
            Command::FineEarlier => shift(document, By::Time(SongSpan::from_millis(-10))),
            Command::FineLater => shift(document, By::Time(SongSpan::from_millis(10))),
            Command::Quantize => {
                document.with_selected("Quantize {}", |show, service, labels| {
                    edit::quantize(show, service, labels, TickSpan::new(960))
                });
            }
            Command::Repeat => editor.ask_batch(super::batch::Verb::Repeat),
            Command::Offset => editor.ask_batch(super::batch::Verb::Offset),
            Command::Stretch => editor.ask_batch(super::batch::Verb::Stretch),
            Command::Rest => {
                let wake = document.selected_cues().iter().any(|c| c.resting);
                rest(document, !wake);
            }
            Command::FitSelection => editor.score.fit_selection(document),
            Command::FitSection => editor.score.fit_section(document),
            Command::FitSong => editor.score.fit_song(document),
            Command::Closer => editor.score.zoom(1.5),
            Command::Wider => editor.score.zoom(1.0 / 1.5),
            Command::PreviousCue => step(document, false),
            Command::NextCue => step(document, true),
            Command::SwitchTheme => {
                editor.theme = if editor.theme == Theme::Dark { Theme::Paper } else { Theme::Dark };
                editor.restyle = true;
            }
            Command::Larger => editor.letters = (editor.letters + 0.1).min(2.0),
            Command::Smaller => editor.letters = (editor.letters - 0.1).max(0.7),
            Command::FullScreen => editor.full = true,
            Command::CommandList => {
                editor.list.open = !editor.list.open;
                editor.list.text.clear();
            }
        }
    }
}

/// Lets the selected cues rest, or wakes them.
pub fn rest(document: &mut Document, resting: bool) {
    let name = if resting { "Rest {}" } else { "Wake {}" };
    document
        .with_selected(name, |show, service, labels| edit::change(show, service, labels, |cue| cue.resting = resting));
}

/// Selects what is picked of the service on screen.
pub fn select(document: &mut Document, pick: &Pick) {
    if let Some(service) = document.current() {
        document.selection = pick.of(service).into_iter().collect();
        let words = document.selection_words();
        document.say(format!("Selected {words}"));
    }
}

fn select_kinds(document: &mut Document) {
    let Some(service) = document.current() else { return };
    let kinds: Vec<Kind> =
        Kind::ALL.into_iter().filter(|k| document.selection.labels.iter().any(|l| l.kind == *k)).collect();
    document.selection = kinds.iter().flat_map(|k| Pick::Kind(*k).of(service)).collect();
}

fn select_section(document: &mut Document) {
    let bar = document.derived().map(|d| d.schedule.grid.place_of(document.playhead_tick()).bar);
    let name = bar.ok().and_then(|bar| document.current()?.song.section_at(bar).map(|s| s.name.clone()));
    match name {
        Some(name) => select(document, &Pick::Section(name)),
        None => document.say("The playhead is in no section"),
    }
}

/// The playhead to the next land, or the one before, and selects what lands there.
fn step(document: &mut Document, forward: bool) {
    let Ok(derived) = document.derived() else { return };
    let now = document.playhead;
    let lands = derived.schedule.rows.iter().map(|r| r.land);
    let to: Option<SongTime> =
        if forward { lands.filter(|t| *t > now).min() } else { lands.filter(|t| *t < now).max() };
    if let Some(to) = to {
        document.playhead = to;
        document.selection = derived.schedule.rows.iter().filter(|r| r.land == to).map(|r| r.label).collect();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_command_is_listed_once_with_words_and_keys_of_its_own() {
        let mut words: Vec<_> = Command::ALL.iter().map(|c| c.words()).collect();
        words.sort_unstable();
        words.dedup();
        assert_eq!(words.len(), Command::ALL.len());
        let keys: Vec<_> = Command::ALL.iter().filter_map(|c| c.shortcut()).collect();
        for (at, one) in keys.iter().enumerate() {
            assert!(!keys[..at].contains(one), "{one:?} twice");
        }
    }
}
