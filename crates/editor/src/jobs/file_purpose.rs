//! What a file is asked for, as data: the words of the dialog, its kind of files, whether it is written.

/// What is written for a service.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExportKind {
    /// The MIDI file, without releases.
    Midi,
    /// The MIDI file, with releases; needs a complete safety sheet.
    MidiWithReleases,
    /// The pages chosen on the Paper screen.
    Paper,
    /// The table.
    Table,
    /// The click, as a sound file.
    Click,
    /// Linear timecode, as a sound file.
    Timecode,
}

impl ExportKind {
    /// The ending of its file, and what such files are.
    pub const fn files(self) -> (&'static str, &'static str) {
        match self {
            ExportKind::Midi | ExportKind::MidiWithReleases => ("mid", "Standard MIDI Files"),
            ExportKind::Paper => ("pdf", "PDF files"),
            ExportKind::Table => ("csv", "CSV tables"),
            ExportKind::Click | ExportKind::Timecode => ("wav", "WAV sound files"),
        }
    }

    /// What sets its file apart from others of the same ending.
    pub const fn word(self) -> &'static str {
        match self {
            ExportKind::Click => "-click",
            ExportKind::Timecode => "-timecode",
            _ => "",
        }
    }
}

/// What a path is for.
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
    /// A MIDI file whose bars and tempo the song takes over.
    Grid,
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
        }
    }

    /// What the button of a typed path says.
    pub const fn verb(self) -> &'static str {
        match self {
            FilePurpose::Open => "Open",
            FilePurpose::SaveAs => "Save",
            FilePurpose::Export(_) => "Export",
            FilePurpose::Previous => "Compare",
            FilePurpose::Guide => "Take it",
            FilePurpose::Grid => "Take over",
        }
    }

    /// Whether a file is written, instead of read.
    pub const fn writes(self) -> bool {
        matches!(self, FilePurpose::SaveAs | FilePurpose::Export(_))
    }

    /// The ending of such files, and what they are.
    pub const fn files(self) -> (&'static str, &'static str) {
        match self {
            FilePurpose::Open | FilePurpose::SaveAs | FilePurpose::Previous => ("letfall", "Letfall shows"),
            FilePurpose::Export(kind) => kind.files(),
            FilePurpose::Grid => ("mid", "Standard MIDI Files"),
            // One ending stands for all in the dialog's filter; a path that is typed may have any.
            FilePurpose::Guide => ("*", "Sound files"),
        }
    }
}

/// What the person was about to do when the show was not saved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Leaving {
    /// Start a new show.
    New,
    /// Open another.
    Open,
    /// Close the window.
    Close,
}
