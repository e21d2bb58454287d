//! Cues from a table that people wrote: each row is looked up in the rig and becomes a new cue, a change of one, or a sentence that says
//! why it cannot be read. Nothing is guessed and nothing is left out without a word.

use super::carry::Clash;
use super::choices::{Choice, choices};
use super::placing::{TimeRangeGuard, grid_of};
use super::step::{Edit, EditError, service};
use crate::schedule::describe;
use crate::show::{Action, Anchor, Cue, Kind, Label, Service, Show, TrackKey};
use crate::time::{BarBeat, Grid, SongTime};
use std::collections::{BTreeSet, HashMap};

/// One row of a table of cues, as text. What is empty was not given.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct CueRow {
    /// The line of the table that it stands in, from 1.
    pub line: usize,
    /// Where it lands: "33", "33 b2", "bar 33, beat 2 and", or a song time such as "1:23.5" or "83.5s".
    pub place: String,
    /// Its label, such as "L3".
    pub label: String,
    /// What kind of cue it is, in a word or letter.
    pub kind: String,
    /// Its track, by name or key.
    pub track: String,
    /// What it calls up, by name, key or desk number.
    pub what: String,
    /// What happens, in the crew's words; `None` if the table has no such column, so that the words of a cue that is there stay.
    pub text: Option<String>,
    /// A remark; `None` as for the text.
    pub note: Option<String>,
}

/// What becomes of a row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RowOutcome {
    /// It is a new cue with this label.
    New(Label),
    /// It changes the cue with this label.
    Changes(Label),
    /// The cue is there already, exactly so.
    Same(Label),
    /// The service has another cue there, which stays.
    Kept(Label),
    /// It cannot be read; why, and what to write instead.
    Unreadable(String),
}

/// A table that was read against a show: what each row does, and the edit that does it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CueTable {
    service: String,
    out: Vec<Cue>,
    into: Vec<Cue>,
    /// What becomes of each row, with its line, in order.
    pub rows: Vec<(usize, RowOutcome)>,
}

impl CueTable {
    /// How many rows have an outcome like this.
    pub fn count(&self, like: impl Fn(&RowOutcome) -> bool) -> usize {
        self.rows.iter().filter(|(_, outcome)| like(outcome)).count()
    }

    /// The lines that cannot be read, each with the reason.
    pub fn unreadable(&self) -> impl Iterator<Item = (usize, &str)> {
        self.rows.iter().filter_map(|(line, outcome)| match outcome {
            RowOutcome::Unreadable(why) => Some((*line, why.as_str())),
            _ => None,
        })
    }

    /// The cue with this label as it will be, if it is new or changed.
    pub fn cue(&self, label: Label) -> Option<&Cue> {
        self.into.iter().find(|cue| cue.label == label)
    }

    /// The labels of cues that are new or changed.
    pub fn labels(&self) -> impl Iterator<Item = Label> {
        self.into.iter().map(|cue| cue.label)
    }

    /// The edit that puts all readable rows in, as one step.
    pub fn edit(&self) -> Edit {
        if self.into.is_empty() {
            return Edit::Nothing;
        }
        Edit::Cues { service: self.service.clone(), out: self.out.clone(), into: self.into.clone() }
    }
}

/// Reads rows as cues of a service. A row with the label of a cue that is there, or one on its track at its time, is about that cue: what
/// then happens is said by `clash`. A cue that stands there just so is left alone, so that a table can be taken over twice.
///
/// # Errors
/// [`EditError`] if there is no such service or its bars cannot be worked out. A row that cannot be read is no error but an outcome.
pub fn take_cue_table(show: &Show, name: &str, rows: &[CueRow], clash: Clash) -> Result<CueTable, EditError> {
    let service = service(show, name)?;
    let grid = grid_of(service)?;
    let offers = Kind::ALL.map(|kind| Offer::new(show, kind));
    let reader = Reader { show, service, grid: &grid, guard: TimeRangeGuard::new(&grid), offers };
    let mut there: HashMap<(TrackKey, SongTime), Vec<&Cue>> = HashMap::new();
    for cue in &service.cues {
        there.entry((cue.track.clone(), cue.at.time(&grid))).or_default().push(cue);
    }
    let mut taking = Taking {
        reader,
        clash,
        there,
        named: rows.iter().filter_map(|row| row.label.trim().to_uppercase().parse().ok()).collect(),
        free: HashMap::new(),
        lines: HashMap::new(),
        added: HashMap::new(),
        out: Vec::new(),
        into: Vec::new(),
    };
    let outcomes = rows.iter().map(|row| (row.line, taking.row(row).unwrap_or_else(RowOutcome::Unreadable))).collect();
    let (mut out, mut into) = (taking.out, taking.into);
    out.sort_by_key(|cue| cue.label);
    into.sort_by_key(|cue| cue.label);
    Ok(CueTable { service: name.to_owned(), out, into, rows: outcomes })
}

/// A table that is being taken over, row by row.
struct Taking<'a> {
    reader: Reader<'a>,
    clash: Clash,
    /// The service's cues by track and time.
    there: HashMap<(TrackKey, SongTime), Vec<&'a Cue>>,
    /// Labels that the table names: they are not given to rows without one.
    named: BTreeSet<Label>,
    /// Free labels of each kind.
    free: HashMap<Kind, Box<dyn Iterator<Item = Label> + 'a>>,
    /// The line in which each cue of the service, or label, was met.
    lines: HashMap<Label, usize>,
    /// The line that each new cue comes from.
    added: HashMap<Label, usize>,
    out: Vec<Cue>,
    into: Vec<Cue>,
}

impl<'a> Taking<'a> {
    fn row(&mut self, row: &CueRow) -> Result<RowOutcome, String> {
        let (label, cue) = self.reader.cue(row)?;
        let old = match label {
            Some(label) => self.reader.service.cues.get(label),
            None => self.meant(&cue),
        };
        if let Some(label) = label.or(old.map(|old| old.label))
            && let Some(first) = self.lines.insert(label, row.line)
        {
            return Err(format!("{label} stands in line {first} already; give one of them another label"));
        }
        let Some(old) = old else { return self.add(label, cue, row.line) };
        let mut changed = old.clone();
        self.reader.change(&mut changed, &cue, row);
        if changed == *old {
            return Ok(RowOutcome::Same(old.label));
        }
        match self.clash {
            Clash::Keep => Ok(RowOutcome::Kept(old.label)),
            Clash::Both => {
                if cue.label.kind == Kind::Release {
                    return Err(format!(
                        "{} is there already; a second release of a fabric is laid by hand, not by a table",
                        old.label
                    ));
                }
                // Taken over a second time, what was added the first time is there.
                let twin = self.reader.service.cues.iter().find(|there| is_same_but_for_its_label(there, &cue));
                twin.map_or_else(|| self.add(None, cue, row.line), |twin| Ok(RowOutcome::Same(twin.label)))
            }
            Clash::Replace => {
                self.out.push(old.clone());
                self.into.push(changed);
                Ok(RowOutcome::Changes(old.label))
            }
        }
    }

    /// The cue that a row without a label is about: one on its track at its time that no other row is about, first of all one that calls
    /// up the same.
    fn meant(&self, cue: &Cue) -> Option<&'a Cue> {
        let there = self.there.get(&(cue.track.clone(), cue.at.time(self.reader.grid)))?;
        let open = |old: &&&Cue| !self.lines.contains_key(&old.label) && !self.named.contains(&old.label);
        let same = there.iter().filter(open).find(|old| old.does == cue.does);
        same.or_else(|| there.iter().find(open)).copied()
    }

    fn add(&mut self, label: Option<Label>, cue: Cue, line: usize) -> Result<RowOutcome, String> {
        let twin = self.into.iter().find(|other| label.is_none() && is_same_but_for_its_label(other, &cue));
        if let Some(first) = twin.and_then(|twin| self.added.get(&twin.label)) {
            return Err(format!("it says the same as line {first}; take one of them out"));
        }
        let kind = cue.label.kind;
        let cues = &self.reader.service.cues;
        let free = self.free.entry(kind).or_insert_with(|| Box::new(cues.free_labels(kind)));
        let label = label.or_else(|| free.find(|label| !self.named.contains(label)));
        let label = label.ok_or_else(|| format!("all labels of {kind} cues are taken"))?;
        self.added.insert(label, line);
        self.into.push(Cue { label, ..cue });
        Ok(RowOutcome::New(label))
    }
}

/// Whether two cues do the same on the same track at the same place, in the same words.
fn is_same_but_for_its_label(one: &Cue, other: &Cue) -> bool {
    one.at == other.at
        && one.track == other.track
        && one.does == other.does
        && one.text == other.text
        && one.note == other.note
}

/// What rows are read against.
struct Reader<'a> {
    show: &'a Show,
    service: &'a Service,
    grid: &'a Grid,
    guard: TimeRangeGuard<'a>,
    offers: [Offer; Kind::ALL.len()],
}

impl Reader<'_> {
    /// The cue of a row, and its label if it has one. Without one, the cue has a label of its kind that is not to be used.
    fn cue(&self, row: &CueRow) -> Result<(Option<Label>, Cue), String> {
        let label: Option<Label> = match row.label.trim() {
            "" => None,
            text => Some(text.to_uppercase().parse().map_err(|_| {
                format!("\"{text}\" is no label; write a letter and a number, such as L3, or leave it empty")
            })?),
        };
        let kind = self.kind(row, label)?;
        let old = label.and_then(|label| self.service.cues.get(label));
        let offer = self.offer(kind);
        let does = match row.what.trim() {
            "" => old.map(|old| old.does.clone()),
            what if old.is_some_and(|old| same(what, &describe(self.show, old))) => old.map(|old| old.does.clone()),
            what => Some(offer.find(what)?),
        };
        let does = does.map_or_else(|| offer.only(), Ok)?;
        let track = match row.track.trim() {
            "" => old.map(|old| old.track.clone()).or_else(|| self.track(kind)),
            named => {
                let fits = |track: &&crate::show::Track| {
                    track.kind == kind && (track.key.as_str() == named || same(&track.name, named))
                };
                let found = self.show.tracks.iter().find(fits).map(|track| track.key.clone());
                Some(found.ok_or_else(|| format!("there is no {kind} track \"{named}\""))?)
            }
        };
        let track = track.ok_or_else(|| format!("there is no {kind} track; add one on the Rig screen"))?;
        let at = match (row.place.trim(), old) {
            ("", Some(old)) => old.at,
            (place, _) => read_place(place, self.grid)?,
        };
        if old.is_none_or(|old| old.at.time(self.grid) != at.time(self.grid)) {
            self.within_the_song(at)?;
        }
        let shown = label.unwrap_or(Label { kind, number: 1 });
        let at = self.guard.within(shown, at).map_err(|why| why.to_string())?;
        let mut cue = Cue::new(shown, track, at, does);
        row.text.as_deref().unwrap_or_default().trim().clone_into(&mut cue.text);
        row.note.as_deref().unwrap_or_default().trim().clone_into(&mut cue.note);
        Ok((label, cue))
    }

    /// Gives a cue that is there what the row says, and leaves what it does not say.
    fn change(&self, old: &mut Cue, new: &Cue, row: &CueRow) {
        // A place that means the same instant stays as it was written.
        if old.at.time(self.grid) != new.at.time(self.grid) {
            old.at = new.at;
        }
        old.track.clone_from(&new.track);
        match (&mut old.does, &new.does) {
            // The cue's own fade stays.
            (Action::Lighting { preset, .. }, Action::Lighting { preset: to, .. }) => preset.clone_from(to),
            (does, new) => does.clone_from(new),
        }
        if row.text.is_some() {
            old.text.clone_from(&new.text);
        }
        if row.note.is_some() {
            old.note.clone_from(&new.note);
        }
    }

    /// The kind of a row: as it says, as its label begins, or as the only kind that has something of the name.
    fn kind(&self, row: &CueRow, label: Option<Label>) -> Result<Kind, String> {
        let said = match row.kind.trim() {
            "" => None,
            word => Some(
                kind_of(word)
                    .ok_or_else(|| format!("\"{word}\" is no kind of cue; write lighting, media, output or release"))?,
            ),
        };
        match (said, label) {
            (Some(said), Some(label)) if said != label.kind => {
                Err(format!("{label} is a label of {} cues, but the row says {said}", label.kind))
            }
            (Some(kind), _) => Ok(kind),
            (None, Some(label)) => Ok(label.kind),
            (None, None) => {
                let what = row.what.trim();
                let fits = |offer: &&Offer| !what.is_empty() && offer.find(what).is_ok();
                let kinds: Vec<Kind> = self.offers.iter().filter(fits).map(|offer| offer.kind).collect();
                match kinds.as_slice() {
                    [one] => Ok(*one),
                    [] if what.is_empty() => {
                        Err("it says neither what kind of cue it is nor what it calls up".to_owned())
                    }
                    [] => {
                        Err(format!("the rig has no \"{what}\"; write its name as on the Rig screen, or say the kind"))
                    }
                    _ => Err(format!("several kinds of cue could call up \"{what}\"; say which kind is meant")),
                }
            }
        }
    }

    /// A place outside the song is most likely a time of day, or a bar of another song.
    fn within_the_song(&self, at: Anchor) -> Result<(), String> {
        let (song, time) = (&self.service.song, at.time(self.grid));
        let first = self.grid.opens(self.show.settings.first_bar());
        let end = self.grid.bar_time(song.end_bar());
        if (first..=end).contains(&time) {
            return Ok(());
        }
        Err(format!(
            "{} is outside the song, which ends at bar {} ({end:.1}); write a bar or a time of the song, or make the song longer first",
            match at {
                Anchor::Grid { place, .. } => format!("bar {}", place.bar),
                Anchor::Clock(time) => format!("{time:.1}"),
            },
            song.end_bar()
        ))
    }

    fn offer(&self, kind: Kind) -> &Offer {
        let [first, rest @ ..] = &self.offers;
        rest.iter().find(|offer| offer.kind == kind).unwrap_or(first)
    }

    /// The first track of a kind.
    fn track(&self, kind: Kind) -> Option<TrackKey> {
        self.show.tracks.iter().find(|track| track.kind == kind).map(|track| track.key.clone())
    }
}

/// Whether two texts are alike but for capital letters and spaces at their ends.
fn same(one: &str, other: &str) -> bool {
    folded(one) == folded(other)
}

/// A text without capital letters and spaces at its ends.
fn folded(text: &str) -> String {
    text.trim().to_lowercase()
}

/// A kind of cue from a word or letter.
fn kind_of(word: &str) -> Option<Kind> {
    Some(match word.to_lowercase().as_str() {
        "l" | "lx" | "light" | "lights" | "lighting" | "preset" => Kind::Lighting,
        "m" | "media" | "picture" | "pictures" | "film" | "video" | "image" | "still" => Kind::Media,
        "o" | "output" | "outputs" | "route" | "screen" | "projector" => Kind::Output,
        "r" | "release" | "releases" | "drop" => Kind::Release,
        _ => return None,
    })
}

fn listed(all: &[Choice]) -> String {
    let names: Vec<&str> = all.iter().take(8).map(|one| one.name.as_str()).collect();
    let more = if all.len() > 8 { format!(" and {} more", all.len() - 8) } else { String::new() };
    format!("{}{more}", names.join(", "))
}

/// What cues of a kind can call up, found by what people write for it.
struct Offer {
    kind: Kind,
    all: Vec<Choice>,
    /// Places in `all` of each name, and of each key, desk number or shorter name.
    by_name: HashMap<String, Vec<usize>>,
    by_other: HashMap<String, Vec<usize>>,
}

impl Offer {
    fn new(show: &Show, kind: Kind) -> Offer {
        let all = choices(show, kind);
        let (mut by_name, mut by_other) = (HashMap::<_, Vec<usize>>::new(), HashMap::<_, Vec<usize>>::new());
        for (at, one) in all.iter().enumerate() {
            by_name.entry(folded(&one.name)).or_default().push(at);
            for other in one.also.iter().map(|other| folded(other)).collect::<BTreeSet<_>>() {
                by_other.entry(other).or_default().push(at);
            }
        }
        Offer { kind, all, by_name, by_other }
    }

    /// What a name, key or desk number means. A name comes before a number or key.
    fn find(&self, what: &str) -> Result<Action, String> {
        let meant = folded(what);
        let found = self.by_name.get(&meant).or_else(|| self.by_other.get(&meant)).map_or(&[][..], Vec::as_slice);
        match found {
            [one] => Ok(self.all[*one].does.clone()),
            [] if self.all.is_empty() => Err(self.nothing()),
            [] => Err(format!("the rig has no \"{what}\" for a {} cue; it has: {}", self.kind, listed(&self.all))),
            _ => Err(format!("\"{what}\" means {} things in the rig; give them different names there", found.len())),
        }
    }

    /// What cues of this kind call up if there is only one thing that they can.
    fn only(&self) -> Result<Action, String> {
        // One release has three moments; the usual one comes first.
        let one = if self.kind == Kind::Release { 3 } else { 1 };
        match self.all.first() {
            None => Err(self.nothing()),
            Some(first) if self.all.len() == one => Ok(first.does.clone()),
            Some(_) => Err(format!("what it calls up is not said; write one of: {}", listed(&self.all))),
        }
    }

    fn nothing(&self) -> String {
        format!("the rig has nothing that a {} cue can call up; add it on the Rig screen first", self.kind)
    }
}

/// Reads a place as people write it in a table.
///
/// # Errors
/// Why it cannot be read, with examples.
pub fn read_place(text: &str, grid: &Grid) -> Result<Anchor, String> {
    let text = text.trim();
    let fail =
        || format!("\"{text}\" is no place; write a bar, such as 33 or 33 b2 or 33 b2 and, or a time, such as 1:23.5");
    if text.is_empty() {
        return Err("it does not say where it lands; write a bar, such as 33 or 33 b2".to_owned());
    }
    if let Some((minutes, seconds)) = text.split_once(':') {
        let digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit() || b == b'.');
        let (minutes, seconds) = (minutes.trim(), seconds.trim());
        let read = (minutes.len() <= 4 && digits(seconds) && !minutes.contains('.')).then(|| {
            let seconds = seconds.parse::<f64>().ok().filter(|s| *s < 60.0)?;
            Some(f64::from(minutes.parse::<u16>().ok()?) * 60.0 + seconds)
        });
        let seconds = read.flatten().ok_or_else(fail)?;
        return Ok(Anchor::Clock(SongTime::saturating(crate::time::round::nearest(seconds * 1e6))));
    }
    let plain: Vec<&str> = text.split('.').collect();
    if let [bar, beat] = plain.as_slice()
        && bar.parse::<i32>().is_ok()
        && beat.parse::<u32>().is_ok()
    {
        return Err(format!("\"{text}\" could be a bar and a beat or a time; write {bar} b{beat}, or {text}s"));
    }
    let lower = text.to_lowercase();
    let (place, part) = match (lower.strip_suffix("and").or_else(|| lower.strip_suffix('&')), lower.rsplit_once('+')) {
        (Some(place), _) => (place.trim(), Some((1, 2))),
        (None, Some((place, part))) if part.contains('/') => {
            let (over, under) = part.split_once('/').ok_or_else(fail)?;
            let (over, under) = (over.trim().parse().map_err(|_| fail())?, under.trim().parse().map_err(|_| fail())?);
            (place.trim(), Some((over, under)))
        }
        _ => (lower.as_str(), None),
    };
    let mut anchor: Anchor = place.trim_end_matches(',').parse().map_err(|_| fail())?;
    if let Anchor::Grid { place, .. } = &mut anchor {
        let beats = grid.beats_in(place.bar);
        if place.beat > beats {
            return Err(format!("bar {} has {beats} beats, so there is no beat {}", place.bar, place.beat));
        }
        if let Some((over, under)) = part {
            *place = after_beat(*place, over, under, grid).ok_or_else(fail)?;
        }
    }
    Ok(anchor)
}

/// A part of a beat after its place.
fn after_beat(place: BarBeat, over: u32, under: u32, grid: &Grid) -> Option<BarBeat> {
    let length = u32::try_from(grid.beat_length(place).get()).ok()?;
    let fits = 0 < under && under <= 32 && over < under;
    let tick = fits.then(|| u64::from(length) * u64::from(over) / u64::from(under))?;
    Some(BarBeat { tick: u32::try_from(tick).ok()?, ..place })
}
