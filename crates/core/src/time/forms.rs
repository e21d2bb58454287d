//! How times are written in the show file.

use super::{Metre, SongSpan, SongTime, Tempo, TickSpan, WallTime};
use crate::text_form::{number_form, text_form};

text_form!(Metre, "Metre", "a metre such as 4/4, 6/8 or 7/8 2+2+3", r"^\d+/\d+( \d+(\+\d+)*)?$");
text_form!(
    Tempo,
    "Tempo",
    "a tempo: 120 (quarter notes a minute), 3/8=80 (dotted quarters a minute) or us=451127 (microseconds a quarter)",
    r"^((\d+/\d+|us)=)?\d+(\.\d{1,6})?$"
);
text_form!(WallTime, "WallTime", "a time of day, 19:30 or 19:30:05", r"^\d\d:\d\d(:\d\d)?$");
number_form!(
    SongTime,
    "SongTime",
    "a song time in microseconds within 24 h",
    SongTime::MIN.micros(),
    SongTime::MAX.micros(),
    SongTime::saturating,
    |t| t.micros()
);
number_form!(
    SongSpan,
    "SongSpan",
    "a length in microseconds within 24 h",
    SongTime::MIN.micros(),
    SongTime::MAX.micros(),
    SongSpan::from_micros,
    |t| t.micros()
);
number_form!(TickSpan, "TickSpan", "a length in ticks of 1/960 quarter note", 0, 1_i64 << 40, TickSpan::new, |t| t
    .get());
