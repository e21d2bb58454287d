//! All commands as data: name, keys, one sentence of help. Menus, keyboard shortcuts and the searchable list read this table;
//! what a command does is written in `carry_out`.

use egui::{Key, KeyboardShortcut, Modifiers};

/// The platform's modifier key for commands.
const CMD: Modifiers = Modifiers::COMMAND;
const CMD_SHIFT: Modifiers = Modifiers::COMMAND.plus(Modifiers::SHIFT);
const NONE: Modifiers = Modifiers::NONE;
const SHIFT: Modifiers = Modifiers::SHIFT;
const ALT: Modifiers = Modifiers::ALT;

macro_rules! commands {
    ($($name:ident = $words:literal, $keys:expr, $help:literal;)*) => {
        /// Everything a user can do as a command.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        #[allow(missing_docs)] // each is explained in `help`
        pub enum Command { $($name),* }

        impl Command {
            /// All commands, in the order of the list.
            pub const ALL: &'static [Command] = &[$(Command::$name),*];

            /// Its name.
            pub const fn words(self) -> &'static str {
                match self { $(Command::$name => $words),* }
            }

            /// What it does, in one sentence.
            pub const fn help(self) -> &'static str {
                match self { $(Command::$name => $help),* }
            }

            const fn keys(self) -> Option<(Modifiers, Key)> {
                match self { $(Command::$name => $keys),* }
            }
        }
    };
}

commands! {
    New = "New show", Some((CMD, Key::N)),
        "Asks a few questions about the song and the room, and makes a show from the answers.";
    Open = "Open a show…", Some((CMD, Key::O)),
        "Opens a show file.";
    Save = "Save", Some((CMD, Key::S)),
        "Saves the show where it is kept.";
    SaveAs = "Save as…", Some((CMD_SHIFT, Key::S)),
        "Saves the show under another name.";
    ExportMidi = "Export this service's MIDI file…", Some((CMD, Key::E)),
        "Writes the messages of the service on screen for the playback machine, without releases.";
    ExportReleases = "Export this service's MIDI file with releases…", None,
        "The same with the release messages on a track of their own; the safety sheet must be filled in.";
    ExportPaper = "Export this service's pages…", Some((CMD, Key::P)),
        "Writes the pages chosen on the Paper screen as PDF.";
    ExportBundle = "Export everything as one bundle…", None,
        "Writes all sheets of all services, MIDI files, click, timecode, tables and the show into one zip file, with an index.";
    ExportTable = "Export this service's table…", None,
        "Writes the cues of the service on screen as CSV.";
    ExportClick = "Export this service's click…", None,
        "Writes a click on every beat as a sound file.";
    ExportTimecode = "Export this service's timecode…", None,
        "Writes linear timecode as a sound file; the service needs a timecode start.";
    TakeGrid = "Take the song's bars and tempo from a MIDI file…", None,
        "The song takes over bars, metre, tempo and sections of a MIDI file. Cues stay at their bars.";
    ChooseGuide = "Choose the song's guide recording…", None,
        "Chooses the recording that everyone follows. Song time 0 is its first sample.";
    OpenFilm = "Open a film of a rehearsal…", None,
        "Opens a film, or a recording of its sound, and lays it against the song on screen. Nothing of it is kept or sent.";
    FindBars = "Find the song's bars in its guide recording", None,
        "Listens to the guide recording and offers its bars and tempo; nothing is changed until you use them.";
    Play = "Play or stop", Some((NONE, Key::Space)),
        "Plays the guide from the playhead, or stops.";
    HalfSpeed = "Play at half speed, pitch kept", None,
        "Plays at half speed with the pitch kept.";
    RoundSection = "Loop this section", None,
        "Plays the section under the playhead again and again.";
    HearClick = "Hear a click on every beat", None,
        "Plays a click on every beat of the grid.";
    Tap = "Tap a beat", Some((NONE, Key::T)),
        "Marks a beat while the song plays.";
    Run = "Rehearse: start from the playhead, or stop", None,
        "Starts sending from the playhead, or stops.";
    StopAll = "Rehearse: stop all", None,
        "Stops everything that is sent and closes every lock. It does not stop the music in the house.";
    NewLighting = "New lighting cue", Some((NONE, Key::L)),
        "Adds a lighting cue at the playhead; while the song plays, at once and like the one before.";
    NewMedia = "New media cue", Some((NONE, Key::M)),
        "Adds a media cue at the playhead; while the song plays, at once and like the one before.";
    NewRelease = "New release cue", Some((NONE, Key::R)),
        "Adds a release cue at the playhead.";
    NewOutput = "New output cue", Some((NONE, Key::O)),
        "Adds an output cue at the playhead; while the song plays, at once and like the one before.";
    NewHere = "New cue on the same track", Some((NONE, Key::Enter)),
        "Adds a cue at the playhead, on the track of the selected cue.";
    TakeTable = "Take cues from a table…", None,
        "Takes cues from rows of a spreadsheet: bar, label, kind, what, text. You see what each row does before it is done.";
    Undo = "Undo", Some((CMD, Key::Z)),
        "Undoes the last step.";
    Redo = "Redo", Some((CMD_SHIFT, Key::Z)),
        "Redoes the step that was undone last.";
    Copy = "Copy cues", None,
        "Copies the selected cues, also as rows for a spreadsheet.";
    Cut = "Cut cues", None,
        "Copies the selected cues and takes them out.";
    Paste = "Paste at the playhead", None,
        "Pastes copied cues so that the first lands at the playhead.";
    Duplicate = "Duplicate, one bar later", Some((CMD, Key::D)),
        "Copies the selected cues to one bar later.";
    Delete = "Delete cues", Some((NONE, Key::Delete)),
        "Takes the selected cues out.";
    PasteSamePlace = "Paste at the same bar and beat", Some((CMD_SHIFT, Key::V)),
        "Pastes copied cues at the bar and beat that they had.";
    SelectAll = "Select all cues", Some((CMD, Key::A)),
        "Selects every cue of the service.";
    SelectNone = "Select nothing", Some((NONE, Key::Escape)),
        "Selects nothing.";
    SelectLabels = "Select by label or bar…", None,
        "Selects cues by label or by bar.";
    SelectKind = "Select all of the selected kinds", Some((CMD_SHIFT, Key::A)),
        "Selects every cue of the kinds that are selected.";
    SelectSection = "Select all in this section", None,
        "Selects every cue in the section under the playhead.";
    NudgeEarlier = "Move one beat earlier", Some((NONE, Key::ArrowLeft)),
        "Moves the selected cues one beat earlier.";
    NudgeLater = "Move one beat later", Some((NONE, Key::ArrowRight)),
        "Moves the selected cues one beat later.";
    BarEarlier = "Move one bar earlier", Some((SHIFT, Key::ArrowLeft)),
        "Moves the selected cues one bar earlier.";
    BarLater = "Move one bar later", Some((SHIFT, Key::ArrowRight)),
        "Moves the selected cues one bar later.";
    FineEarlier = "Move 10 ms earlier", Some((ALT, Key::ArrowLeft)),
        "Moves the selected cues 10 ms earlier, off the grid.";
    FineLater = "Move 10 ms later", Some((ALT, Key::ArrowRight)),
        "Moves the selected cues 10 ms later, off the grid.";
    Quantize = "Quantize to beats", None,
        "Moves the selected cues to the nearest beat.";
    Repeat = "Repeat every so many bars…", None,
        "Copies the selected cues every so many bars.";
    Offset = "Offset by bars, beats or time…", None,
        "Moves the selected cues by a distance that you type.";
    Stretch = "Stretch…", None,
        "Moves the selected cues apart or together, about the earliest.";
    Rest = "Rest or wake cues", None,
        "Rests the selected cues (planned but not sent), or wakes them.";
    FitSelection = "Show the selection", None,
        "Zooms so that the selected cues fill the score.";
    FitSection = "Show this section", None,
        "Zooms so that the section under the playhead fills the score.";
    FitSong = "Show the whole song", Some((CMD, Key::Num0)),
        "Zooms so that the whole song fills the score.";
    Closer = "Zoom in", Some((CMD, Key::Plus)),
        "Zooms in about the middle.";
    Wider = "Zoom out", Some((CMD, Key::Minus)),
        "Zooms out about the middle.";
    PreviousCue = "Playhead to the previous cue", Some((NONE, Key::ArrowUp)),
        "Moves the playhead to where the previous cue lands.";
    NextCue = "Playhead to the next cue", Some((NONE, Key::ArrowDown)),
        "Moves the playhead to where the next cue lands.";
    GoToBar = "Go to bar…", Some((CMD, Key::G)),
        "Moves the playhead to a bar that you type.";
    SongStart = "Playhead to bar 1", Some((NONE, Key::Home)),
        "Moves the playhead to the first bar.";
    SongEnd = "Playhead to the end", Some((NONE, Key::End)),
        "Moves the playhead to the end of the song.";
    PreviousSection = "Playhead to the previous section", Some((NONE, Key::PageUp)),
        "Moves the playhead to where this section begins, or the previous one.";
    NextSection = "Playhead to the next section", Some((NONE, Key::PageDown)),
        "Moves the playhead to where the next section begins.";
    ShowScore = "Show the Score screen", Some((CMD, Key::Num1)),
        "Shows the song, from left to right.";
    ShowServices = "Show the Services screen", Some((CMD, Key::Num2)),
        "Shows the services side by side.";
    ShowRig = "Show the Rig screen", Some((CMD, Key::Num3)),
        "Shows devices, fabric, safety and kit.";
    ShowRehearse = "Show the Rehearse screen", Some((CMD, Key::Num4)),
        "Shows what runs the plan.";
    ShowPaper = "Show the Paper screen", Some((CMD, Key::Num5)),
        "Shows the pages to print.";
    ShowRoom = "Show the Room screen", Some((CMD, Key::Num6)),
        "Shows the room from above, from the side and from the seats, and what comes before the first cue.";
    ShowFilm = "Show the Film screen", Some((CMD, Key::Num7)),
        "Shows a film of a rehearsal, and what it shows of every delay and drop.";
    Tour = "Tour in eight steps", None,
        "Shows on a demo show how a cue is laid, moved, carried, printed and written; it can be ended at any time.";
    SwitchTheme = "Dark or paper", None,
        "Changes between the dark look and the paper look.";
    Larger = "Larger letters", None,
        "Makes all letters larger.";
    Smaller = "Smaller letters", None,
        "Makes all letters smaller.";
    FullScreen = "Full screen", Some((NONE, Key::F11)),
        "Fills the whole screen, or goes back to a window.";
    Find = "Find anything", Some((CMD, Key::F)),
        "Finds cues, presets, pictures, routes, receivers, services, problems, commands and help by a word.";
    Help = "Help", Some((NONE, Key::F1)),
        "Explains the screen, or on Rig the field that has the focus.";
}

impl Command {
    /// Whether its keys act only on the score: plain keys, which people also press where they only want to type or move about, and what
    /// copies and selects cues.
    pub fn is_of_the_score(self) -> bool {
        let plain =
            self.keys().is_some_and(|(modifiers, key)| !modifiers.command && !matches!(key, Key::F1 | Key::F11));
        let cues = [Command::Duplicate, Command::PasteSamePlace, Command::SelectAll, Command::SelectKind];
        plain || cues.contains(&self)
    }

    /// Its keys, using the platform's own modifiers.
    pub fn shortcut(self) -> Option<KeyboardShortcut> {
        self.keys().map(|(modifiers, key)| KeyboardShortcut::new(modifiers, key))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    /// If two commands share a name or keys, only the first one can be reached.
    #[test]
    fn every_command_has_words_and_keys_of_its_own() {
        let (mut words, mut keys) = (BTreeMap::new(), BTreeMap::new());
        for command in Command::ALL {
            let before = words.insert(command.words(), command);
            assert!(before.is_none(), "{command:?} and {before:?} are both called “{}”", command.words());
            assert!(command.help().ends_with('.'), "{command:?}: help is a sentence");
            let Some(shortcut) = command.shortcut() else { continue };
            let before = keys.insert(format!("{shortcut:?}"), command);
            assert!(before.is_none(), "{command:?} and {before:?} have the same keys");
        }
    }
}
