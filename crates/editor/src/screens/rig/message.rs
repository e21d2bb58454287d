//! Editing a message in place.

use crate::widgets::fields::Fields;
use egui::{RichText, Ui};
use letfall_core::limits;
use letfall_core::midi::encode;
use letfall_core::show::{CuePath, Data7, Data14, HexBytes, Message, Receiver, ShowCommand};
use letfall_core::time::{FrameRate, SongSpan};

/// The types of message.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sort {
    Note,
    Program,
    Control,
    Go,
    Stop,
    Resume,
    TimedGo,
    Load,
    Set,
    Fire,
    AllOff,
    Restore,
    Reset,
    GoOff,
    Sysex,
}

impl Sort {
    const ALL: [(Sort, &'static str); 15] = [
        (Sort::Note, "note"),
        (Sort::Program, "program"),
        (Sort::Control, "controller"),
        (Sort::Go, "GO"),
        (Sort::Stop, "STOP"),
        (Sort::Resume, "RESUME"),
        (Sort::TimedGo, "TIMED_GO"),
        (Sort::Load, "LOAD"),
        (Sort::Set, "SET"),
        (Sort::Fire, "FIRE"),
        (Sort::AllOff, "ALL_OFF"),
        (Sort::Restore, "RESTORE"),
        (Sort::Reset, "RESET"),
        (Sort::GoOff, "GO_OFF"),
        (Sort::Sysex, "sysex bytes"),
    ];

    fn of(message: &Message) -> Sort {
        use ShowCommand as C;
        match message {
            Message::Note { .. } => Sort::Note,
            Message::Program { .. } => Sort::Program,
            Message::Control { .. } => Sort::Control,
            Message::Sysex(_) => Sort::Sysex,
            Message::ShowControl(command) => match command {
                C::Go(_) => Sort::Go,
                C::Stop(_) => Sort::Stop,
                C::Resume(_) => Sort::Resume,
                C::TimedGo { .. } => Sort::TimedGo,
                C::Load(_) => Sort::Load,
                C::Set { .. } => Sort::Set,
                C::Fire { .. } => Sort::Fire,
                C::AllOff {} => Sort::AllOff,
                C::Restore {} => Sort::Restore,
                C::Reset {} => Sort::Reset,
                C::GoOff(_) => Sort::GoOff,
            },
        }
    }

    /// A message of this type with default values that keeps the old one's cue number.
    fn usual(self, old: &Message) -> Message {
        use ShowCommand as C;
        let zero = || Data7::new(0).unwrap_or_else(|| unreachable!("0 is 0 to 127"));
        let wide = || Data14::new(0).unwrap_or_else(|| unreachable!("0 is 0 to 16383"));
        let mut path = match old {
            Message::ShowControl(
                C::Go(p) | C::Stop(p) | C::Resume(p) | C::Load(p) | C::GoOff(p) | C::TimedGo { of: p, .. },
            ) => p.clone(),
            _ => CuePath::default(),
        };
        if self == Sort::Load && path.cue.is_none() {
            path.cue = "1".parse().ok();
        }
        match self {
            Sort::Note => note(60),
            Sort::Program => Message::Program { number: zero(), bank: None },
            Sort::Control => Message::Control { controller: zero(), value: zero() },
            Sort::Go => Message::ShowControl(C::Go(path)),
            Sort::Stop => Message::ShowControl(C::Stop(path)),
            Sort::Resume => Message::ShowControl(C::Resume(path)),
            Sort::TimedGo => {
                Message::ShowControl(C::TimedGo { time: SongSpan::from_millis(1000), rate: FrameRate::F25, of: path })
            }
            Sort::Load => Message::ShowControl(C::Load(path)),
            Sort::Set => Message::ShowControl(C::Set { control: wide(), value: wide() }),
            Sort::Fire => Message::ShowControl(C::Fire { number: zero() }),
            Sort::AllOff => Message::ShowControl(C::AllOff {}),
            Sort::Restore => Message::ShowControl(C::Restore {}),
            Sort::Reset => Message::ShowControl(C::Reset {}),
            Sort::GoOff => Message::ShowControl(C::GoOff(path)),
            // The identity request of MIDI 1.0: harmless, and a pattern to type over.
            Sort::Sysex => {
                HexBytes::new(vec![0xf0, 0x7e, 0x7f, 0x06, 0x01, 0xf7]).map_or_else(|_| note(60), Message::Sysex)
            }
        }
    }
}

/// A note at full velocity.
pub fn note(key: u8) -> Message {
    let data = |n| Data7::new(n).or(Data7::new(127)).unwrap_or_else(|| unreachable!("127 is 0 to 127"));
    Message::Note { key: data(key), velocity: data(127), length: SongSpan::from_millis(100) }
}

fn data7(ui: &mut Ui, fields: &mut Fields, value: &mut Data7, least: u8, name: &str) {
    let mut number = value.get();
    fields.data(ui, &mut number, least..=127, name);
    *value = Data7::new(number).unwrap_or(*value);
}

fn data14(ui: &mut Ui, fields: &mut Fields, value: &mut Data14, name: &str) {
    let mut number = value.get();
    fields.data(ui, &mut number, 0..=16_383, name);
    *value = Data14::new(number).unwrap_or(*value);
}

/// Edits a message in one cell of a table; `whose` names it for screen readers. Shows its bytes, or why it has none.
pub fn message(ui: &mut Ui, fields: &mut Fields, message: &mut Message, receiver: Option<&Receiver>, whose: &str) {
    ui.horizontal(|ui| {
        let mut sort = Sort::of(message);
        let all: Vec<(Sort, String)> = Sort::ALL.iter().map(|(s, words)| (*s, (*words).to_owned())).collect();
        fields.choice(ui, &mut sort, &all, 96.0, &format!("Message of {whose}"));
        if sort != Sort::of(message) {
            *message = sort.usual(message);
        }
        parts(ui, fields, message, whose);
        if let Some(receiver) = receiver {
            match encode(message, receiver) {
                Ok(wire) => {
                    let hex = wire.hex();
                    let short: String = hex.chars().take(23).collect();
                    let more = if short.len() < hex.len() { "…" } else { "" };
                    ui.label(RichText::new(format!("{short}{more}")).monospace().weak()).on_hover_text(hex);
                }
                Err(why) => {
                    ui.colored_label(ui.visuals().error_fg_color, "no bytes").on_hover_text(why.to_string());
                }
            }
        }
    });
}

fn parts(ui: &mut Ui, fields: &mut Fields, message: &mut Message, whose: &str) {
    use ShowCommand as C;
    let name = |part: &str| format!("{part} of {whose}");
    match message {
        Message::Note { key, velocity, length } => {
            data7(ui, fields, key, 0, &name("Note number"));
            ui.label("at");
            data7(ui, fields, velocity, 1, &name("Velocity"));
            ui.label("for");
            fields.span(ui, length, &limits::NOTE_LENGTH, &name("Note length"));
        }
        Message::Program { number, bank } => {
            data7(ui, fields, number, 0, &name("Program number"));
            ui.label("bank");
            fields.small(ui, bank, (Data14::get, Data14::new), 0..=16_383, &name("Bank"));
        }
        Message::Control { controller, value } => {
            let mut number = controller.get();
            fields.data(ui, &mut number, 0..=119, &name("Controller number"));
            *controller = Data7::new(number).unwrap_or(*controller);
            ui.label("to");
            data7(ui, fields, value, 0, &name("Controller value"));
        }
        Message::ShowControl(command) => match command {
            C::Go(path) | C::Stop(path) | C::Resume(path) | C::Load(path) | C::GoOff(path) => {
                cue_path(ui, fields, path, whose);
            }
            C::TimedGo { time, rate, of } => {
                cue_path(ui, fields, of, whose);
                ui.label("in");
                fields.seconds(ui, time, &limits::TIMED_GO, &name("Fade time"));
                let rates = [
                    (FrameRate::F24, "24"),
                    (FrameRate::F25, "25"),
                    (FrameRate::F2997Drop, "29.97df"),
                    (FrameRate::F30, "30"),
                ];
                let rates: Vec<(FrameRate, String)> = rates.into_iter().map(|(r, w)| (r, w.to_owned())).collect();
                fields.choice(ui, rate, &rates, 66.0, &name("Frame rate"));
            }
            C::Set { control, value } => {
                data14(ui, fields, control, &name("Control number"));
                ui.label("to");
                data14(ui, fields, value, &name("Control value"));
            }
            C::Fire { number } => data7(ui, fields, number, 0, &name("Macro number")),
            C::AllOff {} | C::Restore {} | C::Reset {} => {}
        },
        Message::Sysex(bytes) => fields.parsed(ui, bytes, 210.0, "F0 7D 01 F7", &name("Bytes")),
    }
}

fn cue_path(ui: &mut Ui, fields: &mut Fields, path: &mut CuePath, whose: &str) {
    for (part, value) in [("cue", &mut path.cue), ("list", &mut path.list), ("path", &mut path.path)] {
        ui.label(part);
        fields.parsed_or_none(ui, value, 44.0, "", &format!("Show-control {part} of {whose}"));
    }
}
