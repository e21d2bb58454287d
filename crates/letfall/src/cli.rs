//! What the command line takes.

use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Plan, check and hand over a show's big moment.
#[derive(Parser)]
#[command(name = "letfall", version, about, long_about = None, args_conflicts_with_subcommands = true,
    after_help = "Letfall's figures are planning estimates. It works out when messages are sent; it cannot tell what the \
    fabric did. Overhead work and electricity are for competent people under local codes.")]
pub struct Cli {
    /// Open the editor on this show; on the demo show if none is named
    pub show: Option<PathBuf>,
    #[command(subcommand)]
    pub command: Option<Command>,
}

#[derive(Subcommand)]
pub enum Command {
    /// Say what is wrong with a show; exit code 1 if anything must not go on
    Check(Check),
    /// Print when each message is sent and when it lands
    Schedule(OfService),
    /// Write a service as a Standard MIDI File
    Midi(Midi),
    /// Print a service's sheets as PDF
    Paper(Paper),
    /// Write a service's cues as CSV
    Table(ToFile),
    /// Write a service's click as a sound file: a beat by beat guide with count-in
    Click(Click),
    /// Write a service's linear timecode as a sound file
    Timecode(LinearTimecode),
    /// Shift cues by bars, beats or time
    Shift(Shift),
    /// Carry cues from one service to others
    Copy(Copy),
    /// Say what differs between two services
    Compare(Compare),
    /// Read bars and tempo of a MIDI file, or find them in a recording
    Grid(Grid),
    /// Print the JSON Schema of the show file
    Schema,
    /// Make an empty show
    New(New),
    /// Write the demo shows and their recordings into a folder
    Demo(Demo),
}

#[derive(Args)]
pub struct Check {
    /// The show file
    pub show: PathBuf,
    /// Only this service (and the rig)
    #[arg(long, value_name = "NAME")]
    pub service: Option<String>,
    /// One JSON object a line
    #[arg(long)]
    pub json: bool,
}

#[derive(Args)]
pub struct OfService {
    /// The show file
    pub show: PathBuf,
    /// The service; may be left out where the show has one
    #[arg(long, value_name = "NAME")]
    pub service: Option<String>,
    /// One JSON object a line
    #[arg(long)]
    pub json: bool,
}

#[derive(Args)]
pub struct ToFile {
    /// The show file
    pub show: PathBuf,
    /// The service; may be left out where the show has one
    #[arg(long, value_name = "NAME")]
    pub service: Option<String>,
    /// The file to write
    #[arg(short, long, value_name = "FILE")]
    pub output: PathBuf,
}

#[derive(Args)]
pub struct Midi {
    #[command(flatten)]
    pub to: ToFile,
    /// Ticks a quarter note, or milliseconds
    #[arg(long, value_enum, default_value = "960")]
    pub resolution: Resolution,
    /// Put release messages in, on a track of their own; needs a complete safety sheet
    #[arg(long)]
    pub with_releases: bool,
}

#[derive(Args)]
pub struct Click {
    #[command(flatten)]
    pub to: ToFile,
    /// Two short pips before each section
    #[arg(long)]
    pub sections: bool,
    /// Samples a second
    #[arg(long, value_name = "HZ", default_value_t = 48_000)]
    pub samples: u32,
}

#[derive(Args)]
pub struct LinearTimecode {
    #[command(flatten)]
    pub to: ToFile,
    /// The song's guide recording on the left channel, the timecode on the right, at the recording's sample rate
    #[arg(long)]
    pub with_guide: bool,
    /// Frame rate; the service's own if left out
    #[arg(long, value_enum)]
    pub rate: Option<Rate>,
    /// Samples a second
    #[arg(long, value_name = "HZ", default_value_t = 48_000, conflicts_with = "with_guide")]
    pub samples: u32,
}

#[derive(Clone, Copy, ValueEnum)]
pub enum Rate {
    #[value(name = "24")]
    F24,
    #[value(name = "25")]
    F25,
    #[value(name = "29.97df")]
    F2997Drop,
    #[value(name = "30")]
    F30,
}

#[derive(Clone, Copy, ValueEnum)]
pub enum Resolution {
    #[value(name = "960")]
    Quarter960,
    #[value(name = "4800")]
    Quarter4800,
    #[value(name = "ms")]
    Millis,
}

#[derive(Args)]
pub struct Paper {
    #[command(flatten)]
    pub to: ToFile,
    /// Which sheet
    #[arg(long, value_enum, default_value = "order")]
    pub sheet: Sheet,
    /// Paper size
    #[arg(long, value_enum, default_value = "a4")]
    pub size: Size,
    /// The day of printing, to stand in the header, such as 2026-12-19
    #[arg(long, value_name = "DATE", default_value = "")]
    pub printed: String,
    /// The version before; what is new, changed or dropped since is marked
    #[arg(long, value_name = "OLD.letfall")]
    pub previous: Option<PathBuf>,
    /// A template of your own instead of the built-in one
    #[arg(long, value_name = "FILE.typ")]
    pub template: Option<PathBuf>,
}

#[derive(Clone, Copy, ValueEnum)]
pub enum Sheet {
    /// Every sheet as one file, with contents and bookmarks
    All,
    /// Running order: everything that happens
    Order,
    /// What the stage manager says, with a count-down to each release
    Calls,
    /// For whoever minds media
    Media,
    /// For whoever minds lighting
    Lighting,
    /// A page for each release: cautions, steps, hang-up plan, signatures
    Release,
    /// For whoever minds outputs
    Outputs,
    /// The whole score on one landscape page
    Wall,
    /// Pre-show checklist
    Checklist,
    /// Kit and cost
    Kit,
}

#[derive(Clone, Copy, ValueEnum)]
pub enum Size {
    A4,
    Letter,
    /// For the wall sheet
    A3,
    /// For the wall sheet
    Tabloid,
}

/// Which cues. All of them if nothing is said; several ways together narrow the choice.
#[derive(Args)]
pub struct Which {
    /// Cues by label, such as L1..L20,R1
    #[arg(long, value_name = "LABELS")]
    pub cues: Option<String>,
    /// Cues of a kind
    #[arg(long, value_enum)]
    pub kind: Option<Kind>,
    /// Cues that land in these bars, such as 33..48
    #[arg(long, value_name = "BARS", allow_hyphen_values = true)]
    pub bars: Option<String>,
    /// Cues that land in the section of this name
    #[arg(long, value_name = "NAME")]
    pub section: Option<String>,
}

#[derive(Clone, Copy, ValueEnum)]
pub enum Kind {
    Media,
    Lighting,
    Release,
    Output,
}

#[derive(Args)]
pub struct Shift {
    /// The show file
    pub show: PathBuf,
    /// The service; may be left out where the show has one
    #[arg(long, value_name = "NAME")]
    pub service: Option<String>,
    #[command(flatten)]
    pub which: Which,
    /// How far: 2bars, -1beat, 250ms, 1.5s
    #[arg(long, value_name = "DISTANCE", allow_hyphen_values = true)]
    pub by: String,
    /// The show file to write
    #[arg(short, long, value_name = "OUT")]
    pub output: PathBuf,
}

#[derive(Args)]
pub struct Copy {
    /// The show file
    pub show: PathBuf,
    /// The service to carry from
    #[arg(long, value_name = "NAME")]
    pub from: String,
    /// The services to carry to, with commas between
    #[arg(long, value_name = "NAMES")]
    pub to: String,
    #[command(flatten)]
    pub which: Which,
    /// How places in one song become places in the other
    #[arg(long = "match", value_enum, default_value = "bars")]
    pub matching: Match,
    /// What to do where the other service has the same label, or a cue on the same track at the same time
    #[arg(long, value_enum, default_value = "keep")]
    pub on_clash: Clash,
    /// The show file to write
    #[arg(short, long, value_name = "OUT")]
    pub output: PathBuf,
}

#[derive(Clone, Copy, ValueEnum)]
pub enum Match {
    /// The same bar and beat
    Bars,
    /// The same bar of the section of the same name
    Sections,
    /// The same song time
    Clock,
}

#[derive(Clone, Copy, ValueEnum)]
pub enum Clash {
    /// The other service's cue stays
    Keep,
    /// The carried cue takes its place
    Replace,
    /// Both stand; the carried one gets a free number
    Both,
}

#[derive(Args)]
pub struct Compare {
    /// The show file
    pub show: PathBuf,
    /// One service
    pub first: String,
    /// The other
    pub second: String,
    /// What counts as the same place
    #[arg(long = "match", value_enum, default_value = "sections")]
    pub matching: Match,
    /// One JSON object a line
    #[arg(long)]
    pub json: bool,
}

#[derive(Args)]
pub struct Grid {
    /// A Standard MIDI File or a recording (WAV, FLAC, MP3, Ogg Vorbis, AAC in M4A)
    pub file: PathBuf,
    /// Seconds into the recording of the first downbeat, where it is known: bar 1 begins there
    #[arg(long, value_name = "SECONDS", allow_negative_numbers = true)]
    pub first_downbeat: Option<f64>,
    /// Seconds of the next downbeat: tempo is then known too
    #[arg(long, value_name = "SECONDS", requires = "first_downbeat", allow_negative_numbers = true)]
    pub second_downbeat: Option<f64>,
    /// Beats a minute, roughly, where they are known
    #[arg(long, value_name = "BPM", conflicts_with = "second_downbeat")]
    pub tempo: Option<f64>,
    /// Beats in every bar of the recording, where that is known
    #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u8).range(1..=7))]
    pub beats_per_bar: Option<u8>,
    /// One JSON object a line
    #[arg(long)]
    pub json: bool,
}

#[derive(Args)]
pub struct New {
    /// The show file to make
    pub file: PathBuf,
    /// Take the song's bars, tempo and sections from this MIDI file
    #[arg(long, value_name = "FILE.mid")]
    pub song: Option<PathBuf>,
}

#[derive(Args)]
pub struct Demo {
    /// The folder; made where it is not there
    pub folder: PathBuf,
}
