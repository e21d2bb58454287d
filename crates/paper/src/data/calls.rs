//! The call sheet: what the stage manager says, when, and what comes by itself between.

use super::changes::{Mark, Marks};
use super::reveal::{Reveal, reveals};
use super::words::{bound, cue_place_words, elapsed, gap, is_uncounted, spoken_place};
use letfall_core::prepared::Prepared;
use letfall_core::schedule::{CallGroup, CallKind, describe};
use letfall_core::show::{Goes, Label, SongBend};
use letfall_core::time::{BarBeat, SongSpan, SongTime};
use serde::Serialize;

/// Everything said, in order, with what comes by itself; then each reveal.
#[derive(Serialize)]
pub struct CallSheet {
    rows: Vec<Line>,
    reveals: Vec<Reveal>,
    speech_rate: u16,
    /// Whether something is sent by the machine, and whether something is pressed by hand.
    by_machine: bool,
    by_hand: bool,
}

/// One call, what comes without one, or a band where a section begins.
#[derive(Serialize, Clone)]
pub struct Line {
    /// "ask", "standby", "go", "watch" or "section".
    pub is: &'static str,
    pub place: String,
    /// The beat within the bar.
    pub beyond: String,
    /// Time of the song.
    pub time: String,
    /// What is heard or seen then.
    pub heard: String,
    pub words: String,
    /// Who answers, and what.
    pub answers: String,
    pub reply: String,
    /// What happens at each of its cues, with its label.
    pub what: Vec<What>,
    pub next: String,
    /// Seconds until something is said again: where a page may turn.
    pub pause: f64,
    /// Why it cannot be said in time, in words; empty if it can.
    pub hurried: String,
    /// Whether somebody watches that it comes by itself.
    pub watched: bool,
    /// The reveal that it is printed with, by its place in the list, or -1.
    pub reveal: i32,
    /// What is left to the land of its reveal.
    pub left: String,
}

/// What happens at one cue.
#[derive(Serialize, Clone)]
pub struct What {
    label: String,
    kind: &'static str,
    /// Its number at the desk; empty if it has none.
    desk: String,
    does: String,
    mark: Mark,
}

/// Works out the call sheet.
pub fn calls(prepared: &Prepared, marks: &Marks) -> CallSheet {
    let (show, service) = (prepared.show(), prepared.service());
    let groups = prepared.call_groups();
    let reveals = reveals(prepared);
    let mut rows = Vec::new();
    let mut bands = bands(prepared).into_iter().peekable();
    let mut heard = HeardBetween::new(prepared);
    for (at, group) in groups.iter().enumerate() {
        while let Some((_, band)) = bands.next_if(|(at, _)| *at <= group.at + SLACK) {
            rows.push(band);
        }
        let reveal = reveals.iter().position(|reveal| reveal.span.contains(&group.at));
        let mut line = line(prepared, marks, group, &mut heard);
        line.pause =
            groups[at + 1..].iter().find(|next| next.is_said()).map_or(1e6, |next| (next.at - group.at).secs_f64());
        if let Some(reveal) = reveal {
            line.reveal = i32::try_from(reveal).unwrap_or(-1);
            line.left = reveals[reveal].left(group.at);
        }
        rows.push(line);
    }
    // A band stands with what follows it.
    let mut below = -1;
    for row in rows.iter_mut().rev() {
        if row.is == "section" {
            row.reveal = below;
        } else {
            below = row.reveal;
        }
    }
    let awake =
        |by_hand: bool| service.cues.iter().any(|cue| !cue.resting && (show.goes(cue) == Goes::Operator) == by_hand);
    CallSheet {
        rows,
        reveals,
        speech_rate: show.settings.words_per_minute,
        by_machine: awake(false),
        by_hand: awake(true),
    }
}

/// A call this little before a bar line belongs to what follows it.
const SLACK: SongSpan = SongSpan::from_millis(500);

/// A band for each section and each place where the song may bend, in order.
fn bands(prepared: &Prepared) -> Vec<(SongTime, Line)> {
    let (song, grid) = (&prepared.service().song, prepared.grid());
    let sections = song.sections.iter().map(|section| (grid.bar_time(section.bar), band(prepared, section)));
    let bends = song.bends.iter().map(|mark| {
        let (name, does) = match &mark.does {
            SongBend::Wait {} => ("Wait".to_owned(), "time stands here until the caller goes on"),
            SongBend::Vamp { .. } => {
                ("Vamp".to_owned(), "goes round until the caller leaves it, at its end or at the next bar")
            }
            SongBend::Free { .. } => ("Played freely".to_owned(), "a live band may stretch these bars"),
            SongBend::Cut { to } => (format!("Cut to bar\u{a0}{to}"), "only if the caller says so"),
        };
        let words = if mark.words.trim().is_empty() { String::new() } else { format!(": “{}”", mark.words.trim()) };
        let last = mark.end_bar() - 1;
        let place = match mark.does {
            SongBend::Vamp { bars, .. } | SongBend::Free { bars } if bars > 1 => {
                format!("bars\u{a0}{} to\u{a0}{last}", mark.bar)
            }
            _ => format!("bar\u{a0}{}", mark.bar),
        };
        let at = grid.bar_time(mark.bar);
        let line = Line {
            is: "section",
            place,
            time: elapsed(at),
            heard: does.to_owned(),
            words: format!("{name}{words}"),
            ..empty()
        };
        (at, line)
    });
    let mut all: Vec<(SongTime, Line)> = sections.chain(bends).collect();
    all.sort_by_key(|(at, _)| *at);
    all
}

fn band(prepared: &Prepared, section: &letfall_core::show::Section) -> Line {
    let start = prepared.grid().bar_time(section.bar);
    let last = i64::from(section.bar) + i64::from(section.bars) - 1;
    Line {
        is: "section",
        place: if last == i64::from(section.bar) {
            format!("bar\u{a0}{}", section.bar)
        } else {
            format!("bars\u{a0}{} to\u{a0}{last}", section.bar)
        },
        time: elapsed(start),
        heard: section.heard.trim().to_owned(),
        words: section.name.clone(),
        ..empty()
    }
}

fn empty() -> Line {
    Line {
        is: "",
        place: String::new(),
        beyond: String::new(),
        time: String::new(),
        heard: String::new(),
        words: String::new(),
        answers: String::new(),
        reply: String::new(),
        what: Vec::new(),
        next: String::new(),
        pause: 0.0,
        hurried: String::new(),
        watched: false,
        reveal: -1,
        left: String::new(),
    }
}

/// What is heard and seen between one call and the next, from the marks on the song.
struct HeardBetween<'a> {
    marks: Vec<(SongTime, &'a str)>,
    next: usize,
}

impl<'a> HeardBetween<'a> {
    fn new(prepared: &'a Prepared) -> HeardBetween<'a> {
        let (song, grid) = (&prepared.service().song, prepared.grid());
        let place = |bar, beat| grid.time_at(grid.tick_of(BarBeat { bar, beat, tick: 0 }));
        let mut marks: Vec<(SongTime, &str)> = song
            .heard
            .iter()
            .map(|heard| (place(heard.bar, heard.beat), heard.text.trim()))
            .filter(|(_, text)| !text.is_empty())
            .collect();
        marks.sort_by_key(|(at, _)| *at);
        HeardBetween { marks, next: 0 }
    }

    /// The marks that have come since the last call.
    fn until(&mut self, at: SongTime) -> String {
        let from = self.next;
        while self.marks.get(self.next).is_some_and(|(mark, _)| *mark <= at + SLACK) {
            self.next += 1;
        }
        self.marks[from..self.next].iter().map(|(_, text)| *text).collect::<Vec<_>>().join("; ")
    }
}

fn line(prepared: &Prepared, marks: &Marks, group: &CallGroup, heard: &mut HeardBetween<'_>) -> Line {
    let (show, service, grid) = (prepared.show(), prepared.service(), prepared.grid());
    // Where nobody counts bars the song time beside it says when.
    let before = is_uncounted(prepared, group.at);
    let (place, beyond) = if before { ("before".to_owned(), String::new()) } else { spoken_place(grid, group.at) };
    let what = |label: &Label| {
        let cue = service.cues.get(*label)?;
        let land = prepared.row(*label)?.land;
        let at = if (land - group.at).abs() < SLACK || !group.is_said() {
            String::new()
        } else {
            format!(", lands {}", cue_place_words(cue, grid))
        };
        let after = match show.goes(cue) {
            Goes::After(first) => format!(", after\u{a0}{first}"),
            _ => String::new(),
        };
        Some(What {
            label: label.to_string(),
            kind: label.kind.name(),
            desk: show.desk_number(cue).to_owned(),
            does: format!("{}{after}{at}", bound(&describe(show, cue))),
            mark: marks.of(*label),
        })
    };
    let own = group.labels.iter().filter_map(|label| service.cues.get(*label)?.call.as_ref());
    let own: Vec<&str> = own.map(|call| call.heard.trim()).filter(|heard| !heard.is_empty()).collect();
    let marked = heard.until(group.at);
    Line {
        is: match group.kind {
            CallKind::Ask => "ask",
            CallKind::Standby => "standby",
            CallKind::Go => "go",
            CallKind::Watch => "watch",
        },
        place,
        beyond,
        time: elapsed(group.at),
        heard: if own.is_empty() || group.kind == CallKind::Standby { marked } else { own.join("; ") },
        words: group.words.clone(),
        answers: group.answers.join(", "),
        reply: group.reply.to_owned(),
        what: match group.kind {
            CallKind::Go | CallKind::Watch => group.labels.iter().filter_map(what).collect(),
            CallKind::Ask | CallKind::Standby => Vec::new(),
        },
        next: group.room.map_or_else(String::new, gap),
        watched: group.watched,
        hurried: match group.room {
            Some(room) if group.is_hurried() => {
                format!(
                    "takes {:.1}\u{a0}s to say, and the next call comes {}",
                    group.lasts.secs_f64(),
                    if room.micros() < 50_000 { "at once".to_owned() } else { format!("after {}", gap(room)) }
                )
            }
            _ => String::new(),
        },
        ..empty()
    }
}
