//! What can be wrong with a time, a metre, a tempo or a grid.

/// Why a time value or a grid was refused. Each message says what, why and what to do.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TimeError {
    /// A point or length outside ±24 h.
    #[error("{micros} µs is outside the 24 hours either side of the song's start; give a time inside them")]
    OutOfRange {
        /// The refused value, in microseconds.
        micros: i64,
    },
    /// Text that should have been a time, a position, a metre or a tempo.
    #[error("\"{text}\" is not {what}; write {example}")]
    Unreadable {
        /// What was given (shortened).
        text: String,
        /// What it should have been.
        what: &'static str,
        /// How to write it.
        example: &'static str,
    },
    /// A metre that cannot be counted or written to a MIDI file.
    #[error("metre {text} cannot be used: {why}")]
    Metre {
        /// The metre as given.
        text: String,
        /// The reason.
        why: &'static str,
    },
    /// A tempo outside 3.6 to 1000 quarter notes a minute.
    #[error("{text} is a quarter note of {quarter_micros} µs; use 60000 to 16777215 µs (1000 down to 3.6 BPM)")]
    Tempo {
        /// The tempo as given.
        text: String,
        /// The length of its quarter note, in whole microseconds.
        quarter_micros: i64,
    },
    /// Marks that are not in rising order, or two marks at one place.
    #[error("two {what} marks stand at {place}, or they are out of order; keep one a place, in rising order")]
    Order {
        /// "metre", "tempo" or "pin".
        what: &'static str,
        /// Where.
        place: String,
    },
    /// The first metre or tempo mark is not at bar 1.
    #[error("the first {what} mark stands at {place}; put it at the start of bar 1")]
    FirstMark {
        /// "metre" or "tempo".
        what: &'static str,
        /// Where it is.
        place: String,
    },
    /// A ramp with no later tempo mark to end at.
    #[error("the tempo ramp that starts at {place} has no later tempo mark to end at; add one where it should arrive")]
    RampEnd {
        /// Where the ramp starts.
        place: String,
    },
    /// A pin that would stretch the tempo too far.
    #[error(
        "the pin of bar {bar} at {time} would need a tempo {ratio} times the marked one; move the pin or mend the tempo marks"
    )]
    Pin {
        /// The pinned bar.
        bar: i32,
        /// Its song time.
        time: String,
        /// How much faster than marked, to three figures.
        ratio: String,
    },
    /// A timecode that does not exist at its rate.
    #[error("timecode {text} does not exist: {why}")]
    Timecode {
        /// As given.
        text: String,
        /// The reason.
        why: &'static str,
    },
}

impl TimeError {
    /// A [`TimeError::Unreadable`] whose text is cut to fit on one line.
    pub fn unreadable(text: &str, what: &'static str, example: &'static str) -> TimeError {
        TimeError::Unreadable { text: text.chars().take(40).collect(), what, example }
    }
}
