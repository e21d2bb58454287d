//! The command line's arguments. Doc comments here are the program's help texts.

use clap::{Args, Parser, Subcommand, ValueEnum};
use letfall_core::time::WallTime;
use std::path::PathBuf;

/// Plan, check and hand over a show's big moment.
#[derive(Parser)]
#[command(name = "letfall", version, about, long_about = None, args_conflicts_with_subcommands = true,
    after_help = "Letfall's figures are planning estimates. It works out when messages are sent; it cannot tell what the \
    fabric did. Overhead work and electricity are for competent people under local codes.")]
pub struct Cli {
    /// The show to open in the editor; the demo show if none is given
    pub show: Option<PathBuf>,
    /// Say nothing but answers and errors
    #[arg(short, long, global = true)]
    pub quiet: bool,
    #[command(subcommand)]
    pub command: Option<Command>,
}

#[derive(Subcommand)]
pub enum Command {
    /// Report what is wrong with a show; exit code 1 if any of it must stop the show
    Check(Check),
    /// Print when each message is sent and when it lands
    Schedule(OfService),
    /// Print what the room gives: what seats see and when, beams, silhouettes, what hangs, what is known and what must be asked
    Room(Room),
    /// Write plan or section of the room as a drawing to scale (SVG)
    Drawing(Drawing),
    /// Write the calls of the week as a calendar file (iCalendar), for everybody or for one role
    Calendar(Calendar),
    /// Write the offers as a table (CSV)
    Offers(Offers),
    /// Take offers over from a table (CSV) into the show
    TakeOffers(TakeOffers),
    /// Begin next year's show: the same without names, dates and signatures, every measured drop to be timed again
    NextYear(NextYear),
    /// Write a service as a Standard MIDI File
    Midi(Midi),
    /// Print a service's sheets as PDF
    Paper(Paper),
    /// Write a service's cues as CSV
    Table(ToFile),
    /// Write a service's click as a sound file: a click on every beat, with a count-in
    Click(Click),
    /// Write a service's linear timecode as a sound file
    Timecode(LinearTimecode),
    /// Put everything together for everybody: all sheets of all services, MIDI files, click, timecode, tables, the show
    Bundle(Bundle),
    /// Shift cues by bars, beats or time
    Shift(Shift),
    /// Carry cues from one service to others
    Copy(Copy),
    /// Take a desk's cue list (number, name, fade) over into the presets of a receiver
    DeskList(DeskList),
    /// Take cues over from a table that people wrote: bar, label, kind, what, text
    Import(Import),
    /// Give the presets of a receiver new desk numbers
    Renumber(Renumber),
    /// List the differences between two services
    Compare(Compare),
    /// Read the bars and tempo of a MIDI file, or find them in a recording
    Grid(Grid),
    /// Measure delays and drops from a film of a rehearsal
    Film(Film),
    /// Run a service by itself, without devices, as a script says that people bend it, and write the log
    Rehearse(Rehearse),
    /// Print the JSON Schema of the show file
    Schema,
    /// Print what a shell needs to complete commands and options
    Completions(Completions),
    /// Print the manual page
    Man,
    /// Create an empty show
    New(New),
    /// Write the demo shows and their recordings into a folder
    Demo(Demo),
    /// Open contacts again if the editor dies; the editor starts this itself
    #[command(name = "keep_contacts", hide = true)]
    KeepContacts,
}

#[derive(Args)]
pub struct Check {
    /// The show file
    pub show: PathBuf,
    /// Only this service (and the rig)
    #[arg(long, value_name = "NAME")]
    pub service: Option<String>,
    /// Say whether a sheet or file with this fingerprint is of the plan as it is now; exit code 1 if not
    #[arg(long, value_name = "FINGERPRINT")]
    pub printed: Option<String>,
    /// Print one JSON object per line
    #[arg(long)]
    pub json: bool,
}

#[derive(Args)]
pub struct Room {
    /// The show file
    pub show: PathBuf,
    /// Print one JSON object per line
    #[arg(long)]
    pub json: bool,
}

#[derive(Clone, Copy, ValueEnum)]
pub enum View {
    /// From above
    Plan,
    /// Along the middle, from the side
    Section,
}

#[derive(Args)]
pub struct Drawing {
    /// The show file
    pub show: PathBuf,
    /// From where it is drawn
    #[arg(long, default_value = "plan")]
    pub view: View,
    /// The file to write; - for standard output
    #[arg(short, long, value_name = "FILE.svg")]
    pub output: PathBuf,
}

#[derive(Args)]
pub struct Calendar {
    /// The show file
    pub show: PathBuf,
    /// Only calls that need this role, and the services
    #[arg(long, value_name = "ROLE")]
    pub role: Option<String>,
    /// The file to write; - for standard output
    #[arg(short, long, value_name = "FILE.ics")]
    pub output: PathBuf,
}

#[derive(Args)]
pub struct Offers {
    /// The show file
    pub show: PathBuf,
    /// The file to write; - for standard output
    #[arg(short, long, value_name = "FILE.csv")]
    pub output: PathBuf,
}

#[derive(Args)]
pub struct TakeOffers {
    /// The show file
    pub show: PathBuf,
    /// The table: columns as letfall offers writes them. It takes the place of the show's offers
    #[arg(value_name = "OFFERS.csv")]
    pub table: PathBuf,
    #[command(flatten)]
    pub target: Target,
}

#[derive(Args)]
pub struct NextYear {
    /// The show file
    pub show: PathBuf,
    /// The year in which the drops were timed
    #[arg(long, value_name = "YEAR", value_parser = clap::value_parser!(u16).range(1900..=9999))]
    pub timed_in: u16,
    /// The show file to write
    #[arg(short, long, value_name = "OUT")]
    pub output: PathBuf,
}

#[derive(Args)]
pub struct OfService {
    /// The show file
    pub show: PathBuf,
    /// The service; optional if the show has only one
    #[arg(long, value_name = "NAME")]
    pub service: Option<String>,
    /// Print one JSON object per line
    #[arg(long)]
    pub json: bool,
}

#[derive(Args)]
pub struct Rehearse {
    /// The show file
    pub show: PathBuf,
    /// The service; optional if the show has only one
    #[arg(long, value_name = "NAME")]
    pub service: Option<String>,
    /// What people do and when, as JSON; - for standard input
    #[arg(long, value_name = "FILE")]
    pub script: PathBuf,
    /// The log to write, one JSON object per line; - for standard output
    #[arg(short, long, value_name = "FILE", default_value = "-")]
    pub output: PathBuf,
}

#[derive(Args)]
pub struct ToFile {
    /// The show file
    pub show: PathBuf,
    /// The service; optional if the show has only one
    #[arg(long, value_name = "NAME")]
    pub service: Option<String>,
    /// The file to write; - for standard output
    #[arg(short, long, value_name = "FILE")]
    pub output: PathBuf,
}

#[derive(Args)]
pub struct Midi {
    #[command(flatten)]
    pub to: ToFile,
    /// Ticks per quarter note, or milliseconds
    #[arg(long, value_enum, default_value = "960")]
    pub resolution: Resolution,
    /// Include release messages, on a track of their own; needs a complete safety sheet
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
    /// Samples per second
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
    /// Frame rate; the service's own if not given
    #[arg(long, value_enum)]
    pub rate: Option<Rate>,
    /// Samples per second
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
    /// Which sheet to print
    #[arg(long, value_enum, default_value = "order")]
    pub sheet: Sheet,
    /// Paper size
    #[arg(long, value_enum, default_value = "a4")]
    pub size: Size,
    /// The date of printing for the header, such as 2026-12-19
    #[arg(long, value_name = "DATE", default_value = "")]
    pub printed: String,
    /// When the song starts today, such as 19:42, if not as planned; the wall clock on the running order is shifted by it
    #[arg(long, value_name = "TIME")]
    pub start: Option<WallTime>,
    /// An earlier version of the show; what is new, changed or dropped since then is marked
    #[arg(long, value_name = "OLD.letfall")]
    pub previous: Option<PathBuf>,
    /// The log of a run: the report of the performance is filled in with it
    #[arg(long, value_name = "RUN.jsonl")]
    pub run: Option<PathBuf>,
    /// Your own template instead of the built-in one
    #[arg(long, value_name = "FILE.typ")]
    pub template: Option<PathBuf>,
}

#[derive(Clone, Copy, ValueEnum)]
pub enum Sheet {
    /// All sheets in one file, with contents and bookmarks
    All,
    /// Running order: everything that happens
    Order,
    /// What the stage manager says, with a countdown to each release
    Calls,
    /// For whoever runs media
    Media,
    /// For whoever runs lighting
    Lighting,
    /// A page for each release: cautions, steps, hang-up plan, signatures
    Release,
    /// For whoever runs outputs
    Outputs,
    /// The whole score on one landscape page
    Wall,
    /// Pre-show checklist
    Checklist,
    /// Equipment and cost
    Kit,
    /// Roles, headsets, places, calls of the day
    Crew,
    /// One page for whoever stands in for a role
    StandIn,
    /// Every message by device, and a table to enter at each desk
    Patch,
    /// What is done between two services, on one page
    Between,
    /// Certificates, permits and inspections with their dates; open notes
    Papers,
    /// Figures for your own risk assessment
    Facts,
    /// How the show is stopped, as a card
    ShowStop,
    /// A form for the report of the performance
    Report,
    /// Taking it all down
    Strike,
    /// Plan and section of the room to scale, what seats see, loads and questions
    Room,
    /// What is known, and what must be asked of whom
    Known,
    /// A form for a walk round the room
    Survey,
    /// What a hire company is asked for
    Request,
    /// Offers side by side
    Offers,
    /// The days from load-in to return
    Week,
    /// How to film a rehearsal to measure from
    Filming,
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

/// Which cues. All cues if no option is given; several options together narrow the choice.
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

/// What of a film is taken into the show.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum TakeFromFilm {
    /// The delays of receivers
    Delays,
    /// The drops of fabrics, which you have looked at frame by frame
    Drops,
}

#[derive(Args)]
pub struct Film {
    /// The show file
    pub show: PathBuf,
    /// The film, or a recording of its sound
    #[arg(value_name = "FILM")]
    pub file: PathBuf,
    /// The service; needed only if the show has several
    #[arg(long, value_name = "NAME")]
    pub service: Option<String>,
    /// A JSON file that says what of the show is seen where in the picture
    #[arg(long, value_name = "FILE")]
    pub regions: Option<PathBuf>,
    /// Find out from what changes when, and write such a file: a proposal to look at
    #[arg(long, value_name = "FILE", conflicts_with_all = ["regions", "json"])]
    pub propose: Option<PathBuf>,
    /// In place of the sound: a time of the film, and the bar that begins then, such as 12.4=33
    #[arg(long, value_name = "SECONDS=BAR")]
    pub at: Option<String>,
    /// What is heard at --at is a clap, a click or a drum: its own beginning counts, to a few milliseconds
    #[arg(long, requires = "at")]
    pub sudden: bool,
    /// With --at: the film plays so many times slower than it was filmed
    #[arg(long, value_name = "TIMES", requires = "at", default_value_t = 1.0)]
    pub slow: f64,
    /// From the loudspeaker to the camera, metres; if not given, it stood at the seat that the show plans for
    #[arg(long, value_name = "METRES")]
    pub distance: Option<f64>,
    /// How long the camera takes from the first row of a picture to its last, milliseconds
    #[arg(long, value_name = "MS", default_value_t = 0.0)]
    pub rolling: f64,
    /// When hands that clap meet in the picture, seconds of the film: tells how much later it has the sound
    #[arg(long, value_name = "SECONDS", conflicts_with = "sound_late")]
    pub clap: Option<f64>,
    /// How much later the film has a sound than its picture, milliseconds, if you know it
    #[arg(long, value_name = "MS", allow_negative_numbers = true)]
    pub sound_late: Option<f64>,
    /// How far that may be off, milliseconds: 40 if nothing is known
    #[arg(long, value_name = "MS")]
    pub sound_late_within: Option<f64>,
    /// The log of the run that was filmed: what was sent late is not counted as late of a device
    #[arg(long, value_name = "LOG", requires = "regions")]
    pub log: Option<PathBuf>,
    /// Print one JSON object per line
    #[arg(long)]
    pub json: bool,
    /// Print what it shows as a sheet, a PDF file
    #[arg(long, value_name = "FILE.pdf", requires = "regions")]
    pub paper: Option<PathBuf>,
    /// Take these into the show, and write it to -o
    #[arg(long, value_enum, value_delimiter = ',', requires = "output")]
    pub take: Vec<TakeFromFilm>,
    /// The show file to write
    #[arg(short, long, value_name = "OUT", requires = "take")]
    pub output: Option<PathBuf>,
}

#[derive(Clone, Copy, ValueEnum)]
pub enum Kind {
    Media,
    Lighting,
    Release,
    Output,
}

/// Where a command that changes a show writes it.
#[derive(Args)]
pub struct Target {
    /// The show file to write
    #[arg(short, long, value_name = "OUT", required_unless_present = "in_place")]
    pub output: Option<PathBuf>,
    /// Change the show where it is
    #[arg(long)]
    pub in_place: bool,
}

#[derive(Args)]
pub struct Shift {
    /// The show file
    pub show: PathBuf,
    /// The service; optional if the show has only one
    #[arg(long, value_name = "NAME")]
    pub service: Option<String>,
    #[command(flatten)]
    pub which: Which,
    /// How far to shift: 2bars, -1beat, 250ms, 1.5s
    #[arg(long, value_name = "DISTANCE", allow_hyphen_values = true)]
    pub by: String,
    #[command(flatten)]
    pub target: Target,
}

#[derive(Args)]
pub struct Completions {
    /// For which shell
    pub shell: Shell,
}

#[derive(Clone, Copy, ValueEnum)]
pub enum Shell {
    Bash,
    Zsh,
    Fish,
}

#[derive(Args)]
pub struct Bundle {
    /// The show file
    pub show: PathBuf,
    /// The folder to make, or the file if its name ends in .zip
    #[arg(short, long, value_name = "FOLDER|FILE.zip")]
    pub output: PathBuf,
    /// Paper size
    #[arg(long, value_enum, default_value = "a4")]
    pub size: Size,
    /// The date of printing for the header, such as 2026-12-19
    #[arg(long, value_name = "DATE", default_value = "")]
    pub printed: String,
    /// An earlier version of the show; what is new, changed or dropped since then is marked
    #[arg(long, value_name = "OLD.letfall")]
    pub previous: Option<PathBuf>,
    /// Put release messages into the MIDI files: such a file has no hold, and needs the safety sheet
    #[arg(long)]
    pub with_releases: bool,
    /// Take the guide recordings along
    #[arg(long)]
    pub with_guides: bool,
    /// Samples a second of click and timecode
    #[arg(long, value_name = "HZ", default_value_t = 48_000)]
    pub samples: u32,
}

#[derive(Args)]
pub struct DeskList {
    /// The show file
    pub show: PathBuf,
    /// The receiver, by its key or name
    #[arg(long, value_name = "RECEIVER")]
    pub receiver: String,
    /// The list: a table as CSV, with tabs or semicolons, one row for each cue
    #[arg(long, value_name = "FILE.csv")]
    pub list: PathBuf,
    #[command(flatten)]
    pub target: Target,
}

#[derive(Args)]
pub struct Import {
    /// The show file
    pub show: PathBuf,
    /// The table: CSV, or with tabs or semicolons. Columns bar, label, kind, what, text; or in any order under headings
    #[arg(value_name = "CUES.csv")]
    pub table: PathBuf,
    /// The service; optional if the show has only one
    #[arg(long, value_name = "NAME")]
    pub service: Option<String>,
    /// What to do if the service already has the same label, or a cue on the same track at the same time, and it is another
    #[arg(long, value_enum, default_value = "keep")]
    pub on_clash: Clash,
    #[command(flatten)]
    pub target: Target,
}

#[derive(Args)]
pub struct Renumber {
    /// The show file
    pub show: PathBuf,
    /// The receiver, by its key or name
    #[arg(long, value_name = "RECEIVER")]
    pub receiver: String,
    /// The first number
    #[arg(long, value_name = "NUMBER", default_value = "1")]
    pub from: u32,
    /// From each number to the next
    #[arg(long, value_name = "NUMBER", default_value = "1")]
    pub step: u32,
    #[command(flatten)]
    pub target: Target,
}

#[derive(Args)]
pub struct Copy {
    /// The show file
    pub show: PathBuf,
    /// The service to carry cues from
    #[arg(long, value_name = "NAME")]
    pub from: String,
    /// The services to carry cues to, separated by commas
    #[arg(long, value_name = "NAMES")]
    pub to: String,
    #[command(flatten)]
    pub which: Which,
    /// How positions in one song map to positions in the other
    #[arg(long = "match", value_enum, default_value = "bars")]
    pub matching: Match,
    /// What to do if the other service already has the same label, or a cue on the same track at the same time
    #[arg(long, value_enum, default_value = "keep")]
    pub on_clash: Clash,
    #[command(flatten)]
    pub target: Target,
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
    /// Keep the other service's cue
    Keep,
    /// Replace it with the new one
    Replace,
    /// Keep both; the new one gets a free number
    Both,
}

#[derive(Args)]
pub struct Compare {
    /// The show file
    pub show: PathBuf,
    /// One service
    pub first: String,
    /// The other service
    pub second: String,
    /// What counts as the same position
    #[arg(long = "match", value_enum, default_value = "sections")]
    pub matching: Match,
    /// Print one JSON object per line
    #[arg(long)]
    pub json: bool,
}

#[derive(Args)]
pub struct Grid {
    /// A Standard MIDI File or a recording (WAV, FLAC, MP3, Ogg Vorbis, AAC in M4A)
    pub file: PathBuf,
    /// The first downbeat in the recording in seconds, if known: bar 1 begins there
    #[arg(long, value_name = "SECONDS", allow_negative_numbers = true)]
    pub first_downbeat: Option<f64>,
    /// The next downbeat in seconds: the tempo is then known too
    #[arg(long, value_name = "SECONDS", requires = "first_downbeat", allow_negative_numbers = true)]
    pub second_downbeat: Option<f64>,
    /// Rough tempo in beats per minute, if known
    #[arg(long, value_name = "BPM", conflicts_with = "second_downbeat")]
    pub tempo: Option<f64>,
    /// Beats in every bar of the recording, if known
    #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u8).range(1..=7))]
    pub beats_per_bar: Option<u8>,
    /// Print one JSON object per line
    #[arg(long)]
    pub json: bool,
}

#[derive(Args)]
pub struct New {
    /// The show file to create
    pub file: PathBuf,
    /// Take the song's bars, tempo and sections from this MIDI file
    #[arg(long, value_name = "FILE.mid")]
    pub song: Option<PathBuf>,
}

#[derive(Args)]
pub struct Demo {
    /// The folder; created if it does not exist
    pub folder: PathBuf,
}
