//! What a file is chosen for, as data: the dialog's words, the kind of file, whether it is written.

/// What to export for a service.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExportKind {
    /// A MIDI file without releases.
    Midi,
    /// A MIDI file with releases; needs a complete safety sheet.
    MidiWithReleases,
    /// The pages chosen on the Paper screen.
    Paper,
    /// Everything for everybody, as one zip file.
    Bundle,
    /// The cue table.
    Table,
    /// The click, as a sound file.
    Click,
    /// Linear timecode, as a sound file.
    Timecode,
}

impl ExportKind {
    /// The file extension, and what such files are called.
    pub const fn files(self) -> (&'static str, &'static str) {
        match self {
            ExportKind::Midi | ExportKind::MidiWithReleases => ("mid", "Standard MIDI Files"),
            ExportKind::Paper => ("pdf", "PDF files"),
            ExportKind::Bundle => ("zip", "Zip files"),
            ExportKind::Table => ("csv", "CSV tables"),
            ExportKind::Click | ExportKind::Timecode => ("wav", "WAV sound files"),
        }
    }

    /// The part of the file name that sets it apart from other exports with the same extension.
    pub const fn word(self) -> &'static str {
        match self {
            ExportKind::Click => "-click",
            ExportKind::Timecode => "-timecode",
            ExportKind::Bundle => "-bundle",
            _ => "",
        }
    }
}

/// What a path is chosen for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FilePurpose {
    /// A show to open.
    Open,
    /// Where to save the show.
    SaveAs,
    /// Where to write an export.
    Export(ExportKind),
    /// An earlier version of the show, to mark changes against.
    Previous,
    /// A recording for the song on screen.
    Guide,
    /// A MIDI file to take the song's bars and tempo from.
    Grid,
    /// A table to take cues from.
    Table,
    /// A MIDI file for the song of a show that is begun.
    StartSong,
    /// A recording for the song of a show that is begun.
    StartGuide,
    /// A show whose rig is taken for a show that is begun.
    StartRig,
    /// A film of a rehearsal.
    Film,
    /// The log of the run that was filmed.
    FilmLog,
    /// What is seen where in a film.
    Regions,
    /// Where to write what is seen where.
    SaveRegions,
}

impl FilePurpose {
    /// The dialog's title.
    pub const fn title(self) -> &'static str {
        match self {
            FilePurpose::Open => "Open a show",
            FilePurpose::SaveAs => "Save the show as",
            FilePurpose::Export(_) => "Export to",
            FilePurpose::Previous => "Mark changes since this version",
            FilePurpose::Guide => "Choose the song's guide recording",
            FilePurpose::Grid => "Take bars and tempo from a MIDI file",
            FilePurpose::Table => "Take cues from a table",
            FilePurpose::StartSong => "Take the song's bars and tempo from a MIDI file",
            FilePurpose::StartGuide => "Choose the song's recording",
            FilePurpose::StartRig => "Take the rig of an earlier show",
            FilePurpose::Film => "Open a film of a rehearsal",
            FilePurpose::FilmLog => "Take the log of the run that was filmed",
            FilePurpose::Regions => "Take what is seen where from a file",
            FilePurpose::SaveRegions => "Keep what is seen where in a file",
        }
    }

    /// The label of the button beside a typed path.
    pub const fn verb(self) -> &'static str {
        match self {
            FilePurpose::Open | FilePurpose::Film => "Open",
            FilePurpose::SaveAs | FilePurpose::SaveRegions => "Save",
            FilePurpose::Export(_) => "Export",
            FilePurpose::Previous => "Compare",
            FilePurpose::Guide => "Take it",
            FilePurpose::Grid => "Take over",
            FilePurpose::Table
            | FilePurpose::StartSong
            | FilePurpose::StartRig
            | FilePurpose::FilmLog
            | FilePurpose::Regions => "Read it",
            FilePurpose::StartGuide => "Choose it",
        }
    }

    /// Whether the file is written rather than read.
    pub const fn writes(self) -> bool {
        matches!(self, FilePurpose::SaveAs | FilePurpose::Export(_) | FilePurpose::SaveRegions)
    }

    /// The extension of such files, and what they are called.
    pub const fn files(self) -> (&'static str, &'static str) {
        match self {
            FilePurpose::Open | FilePurpose::SaveAs | FilePurpose::Previous | FilePurpose::StartRig => {
                ("letfall", "Letfall shows")
            }
            FilePurpose::Export(kind) => kind.files(),
            FilePurpose::Grid | FilePurpose::StartSong => ("mid", "Standard MIDI Files"),
            // The dialog's filter takes only one extension, so it shows all files; a typed path may have any.
            FilePurpose::Guide | FilePurpose::StartGuide => ("*", "Sound files"),
            FilePurpose::Film => ("*", "Films and sound files"),
            FilePurpose::FilmLog => ("jsonl", "Logs of runs"),
            FilePurpose::Regions | FilePurpose::SaveRegions => ("json", "Regions of a film"),
            // Tables are saved as .csv, .tsv or .txt.
            FilePurpose::Table => ("*", "Tables"),
        }
    }
}

/// What the user was about to do when there was unsaved work, or a performance was going on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Leaving {
    /// Start a new show.
    New,
    /// Open another.
    Open,
    /// Open the show that was dropped on the window.
    Dropped,
    /// Close the window.
    Close,
    /// Take bars and tempo from a MIDI file.
    Grid,
    /// Take the tour on the demo show.
    Tour,
}
