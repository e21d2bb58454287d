//! The text fields of a cue: how each is read from the cue and written to it.

use crate::widgets::quantity;
use letfall_core::limits::{self, Limit};
use letfall_core::show::{Action, Call, Cue, Kind};
use letfall_core::time::SongSpan;

/// The text fields of a cue.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Field {
    /// Where it lands.
    At,
    /// What happens.
    Text,
    /// The number at the operator's desk.
    Desk,
    /// Duration of the fade.
    Fade,
    /// How long a picture or film plays.
    Length,
    /// How much earlier it is sent than its device requires.
    Lead,
    /// How long before the go the standby call comes.
    Standby,
    /// What is said at the standby.
    StandbyWords,
    /// What is said at the go.
    GoWords,
    /// What is heard or seen when it is called.
    Heard,
    /// A note.
    Note,
}

impl Field {
    /// All fields, in the order of the panel.
    pub const ALL: [Field; 11] = [
        Field::At,
        Field::Text,
        Field::Desk,
        Field::Fade,
        Field::Length,
        Field::Lead,
        Field::Standby,
        Field::StandbyWords,
        Field::GoWords,
        Field::Heard,
        Field::Note,
    ];

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Field::At => "Lands at",
            Field::Text => "What happens",
            Field::Desk => "Desk number",
            Field::Fade => "Fade",
            Field::Length => "Plays for",
            Field::Lead => "Sent earlier by",
            Field::Standby => "Standby ahead",
            Field::StandbyWords => "Standby words",
            Field::GoWords => "Go words",
            Field::Heard => "Heard or seen",
            Field::Note => "Note",
        }
    }

    /// What applies if nothing is entered.
    pub const fn hint(self) -> &'static str {
        match self {
            Field::Fade => "as the preset has it",
            Field::Length => "as the film has it",
            Field::Standby => "as the show has it",
            Field::StandbyWords | Field::GoWords => "the usual words",
            Field::Desk => "as the item has it",
            Field::Heard => "as the song's marks have it",
            Field::At | Field::Text | Field::Lead | Field::Note => "",
        }
    }

    /// The name of the undo step for changing it.
    pub const fn step(self) -> &'static str {
        match self {
            Field::At => "Place {}",
            Field::Text => "Describe {}",
            Field::Fade => "Fade of {}",
            Field::Length => "Length of {}",
            Field::Lead => "Lead of {}",
            Field::Standby => "Standby of {}",
            Field::StandbyWords | Field::GoWords => "Words for {}",
            Field::Desk => "Desk number of {}",
            Field::Heard => "What is heard at {}",
            Field::Note => "Note on {}",
        }
    }

    /// Whether cues of this kind have the field; for several kinds, whether all of them have it.
    pub fn fits(self, kind: Option<Kind>) -> bool {
        match self {
            Field::Fade => kind == Some(Kind::Lighting),
            Field::Length => kind == Some(Kind::Media),
            Field::Desk => kind != Some(Kind::Release),
            _ => true,
        }
    }

    /// The cue's current value as text.
    pub fn read(self, cue: &Cue) -> String {
        let call = |of: &dyn Fn(&Call) -> String| cue.call.as_ref().map_or_else(String::new, |c| of(c));
        match self {
            Field::At => cue.at.to_string(),
            Field::Text => cue.text.clone(),
            Field::Desk => cue.desk.clone(),
            Field::Heard => call(&|c| c.heard.clone()),
            Field::Fade => match &cue.does {
                Action::Lighting { fade: Some(fade), .. } => secs(*fade),
                _ => String::new(),
            },
            Field::Length => cue.length.map_or_else(String::new, |l| l.to_string()),
            Field::Lead => format!("{} ms", cue.lead_adjust.micros() as f64 / 1000.0),
            Field::Standby => call(&|c| c.standby.map_or_else(String::new, secs)),
            Field::StandbyWords => call(&|c| c.standby_words.clone()),
            Field::GoWords => call(&|c| c.go_words.clone()),
            Field::Note => cue.note.clone(),
        }
    }

    /// Sets the cue's value from text.
    ///
    /// # Errors
    /// Why the text cannot be read, with an example.
    pub fn write(self, cue: &mut Cue, text: &str) -> Result<(), String> {
        let trimmed = text.trim();
        match self {
            Field::At => cue.at = trimmed.parse().map_err(|e: letfall_core::time::TimeError| e.to_string())?,
            Field::Text => text.clone_into(&mut cue.text),
            Field::Desk => trimmed.clone_into(&mut cue.desk),
            Field::Heard => with_call(cue, |call| text.clone_into(&mut call.heard)),
            Field::Note => text.clone_into(&mut cue.note),
            Field::Fade => {
                let new = if trimmed.is_empty() { None } else { Some(span(trimmed, &limits::CUE_FADE)?) };
                if let Action::Lighting { fade, .. } = &mut cue.does {
                    *fade = new;
                }
            }
            Field::Length if trimmed.is_empty() => cue.length = None,
            Field::Length => {
                // Seconds in any unit of time, or a length in beats and bars as it stands in the file.
                let text = match quantity::read(trimmed, "s", &(0.0..=86_400.0), false) {
                    Ok(seconds) => format!("{seconds:.6}s"),
                    Err(_) => trimmed.replace(' ', ""),
                };
                cue.length = Some(text.parse().map_err(|e: letfall_core::time::TimeError| e.to_string())?);
            }
            Field::Lead if trimmed.is_empty() => cue.lead_adjust = SongSpan::ZERO,
            Field::Lead => cue.lead_adjust = span(trimmed, &limits::LEAD_ADJUST)?,
            Field::Standby => {
                let standby = if trimmed.is_empty() { None } else { Some(span(trimmed, &limits::CALL_STANDBY)?) };
                with_call(cue, |call| call.standby = standby);
            }
            Field::StandbyWords => with_call(cue, |call| text.clone_into(&mut call.standby_words)),
            Field::GoWords => with_call(cue, |call| text.clone_into(&mut call.go_words)),
        }
        Ok(())
    }
}

/// Changes how a cue is called. A cue that is called in the usual way stores nothing about it.
pub fn with_call(cue: &mut Cue, change: impl FnOnce(&mut Call)) {
    let mut call = cue.call.take().map_or_else(Call::default, |c| *c);
    change(&mut call);
    cue.call = (call != Call::default()).then(|| Box::new(call));
}

/// "2 s", "0.5 s".
fn secs(span: SongSpan) -> String {
    format!("{} s", span.micros() as f64 / 1e6)
}

/// Reads "200 ms", "2 s", "1:30" or a plain number of seconds, within a limit.
fn span(text: &str, limit: &Limit) -> Result<SongSpan, String> {
    let range = limit.low / 1e6..=limit.high / 1e6;
    let read = SongSpan::from_secs_f64(quantity::read(text, "s", &range, false)?);
    limit.check_span(read)?;
    Ok(read)
}
