//! One undoable change.

use crate::show::{
    Anchor, BetweenTask, Budget, CrewMember, Cue, DayPaper, HandOut, Hang, Invalid, KitItem, Label, MediaItem, Offer,
    OpenNote, Output, Port, Preset, Receiver, Release, Room, Route, SafetySheet, Service, Settings, Show, ShowStop,
    Track, Week,
};
use crate::time::TimeError;

/// A cue that moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Moved {
    /// Which.
    pub label: Label,
    /// From here.
    pub before: Anchor,
    /// To here.
    pub after: Anchor,
}

/// A whole part of the show other than its cues. These tables are small, so each is replaced as a whole.
#[derive(Debug, Clone, PartialEq)]
#[allow(missing_docs)] // each is the field of `Show` of the same name
pub enum Part {
    Title(String),
    Venue(String),
    Version(String),
    Settings(Settings),
    Ports(Vec<Port>),
    Receivers(Vec<Receiver>),
    Presets(Vec<Preset>),
    Media(Vec<MediaItem>),
    Outputs(Vec<Output>),
    Routes(Vec<Route>),
    Hangs(Vec<Hang>),
    Releases(Vec<Release>),
    Tracks(Vec<Track>),
    Safety(SafetySheet),
    Kit(Vec<KitItem>),
    Budget(Option<Budget>),
    HandOuts(Vec<HandOut>),
    Crew(Vec<CrewMember>),
    Between(Vec<BetweenTask>),
    Papers(Vec<DayPaper>),
    Notes(Vec<OpenNote>),
    Stop(ShowStop),
    Room(Option<Room>),
    Week(Week),
    Offers(Vec<Offer>),
}

/// A change that can be undone exactly.
#[derive(Debug, Clone, PartialEq)]
pub enum Edit {
    /// Nothing.
    Nothing,
    /// Cues of a service move; nothing else about them changes.
    Move {
        /// The service, by name.
        service: String,
        /// The moves, in label order.
        moves: Vec<Moved>,
    },
    /// Cues are removed from a service and others added. A changed cue is in both lists.
    Cues {
        /// The service, by name.
        service: String,
        /// Cues as they were, in label order.
        out: Vec<Cue>,
        /// Cues as they will be, in label order.
        into: Vec<Cue>,
    },
    /// A service's own data (name, start, song) changes; its cues stay.
    Facts {
        /// As it was, without cues.
        before: Box<Service>,
        /// As it will be, without cues.
        after: Box<Service>,
    },
    /// A whole service is added or removed.
    PutService {
        /// Where in the list.
        at: usize,
        /// The service.
        service: Box<Service>,
        /// Added if true, removed if false.
        put: bool,
    },
    /// Another part of the show changes.
    Part {
        /// As it was.
        before: Box<Part>,
        /// As it will be.
        after: Box<Part>,
    },
    /// Several changes, made one after another as one step.
    All(Vec<Edit>),
}

/// Why an edit cannot be made or applied.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum EditError {
    /// No such service.
    #[error("there is no service \"{0}\"; the show has {1}")]
    NoService(String, String),
    /// No such cue.
    #[error("service \"{1}\" has no cue {0}; choose one that it has")]
    NoCue(Label, String),
    /// The show has changed since the edit was made.
    #[error("the show has changed since this edit of {0} was made; make it again")]
    Stale(String),
    /// A cue would leave the song's range.
    #[error("cue {label} cannot move there: {why}")]
    Range {
        /// Which.
        label: Label,
        /// Why.
        why: TimeError,
    },
    /// The service's grid cannot be built.
    #[error("service \"{service}\": {why}")]
    Grid {
        /// Which.
        service: String,
        /// Why.
        why: TimeError,
    },
    /// All numbers of a kind are taken.
    #[error("all 999999 labels of this kind are taken; delete some cues first")]
    NoLabel,
    /// A value that makes no sense.
    #[error("{0}")]
    Figure(String),
    /// The result would not be a valid show.
    #[error(transparent)]
    Invalid(#[from] Invalid),
}

impl EditError {
    pub(super) fn no_service(show: &Show, name: &str) -> EditError {
        let names: Vec<String> = show.services.iter().take(12).map(|s| format!("\"{}\"", s.name)).collect();
        EditError::NoService(name.to_owned(), if names.is_empty() { "none".to_owned() } else { names.join(", ") })
    }
}

/// The service with this name.
pub(super) fn service<'a>(show: &'a Show, name: &str) -> Result<&'a Service, EditError> {
    show.service(name).ok_or_else(|| EditError::no_service(show, name))
}

fn service_mut<'a>(show: &'a mut Show, name: &str) -> Result<&'a mut Service, EditError> {
    match show.services.iter().position(|s| s.name == name) {
        Some(at) => Ok(&mut show.services[at]),
        None => Err(EditError::no_service(show, name)),
    }
}

impl Edit {
    /// Whether it changes nothing.
    pub fn is_nothing(&self) -> bool {
        match self {
            Edit::Nothing => true,
            Edit::Move { moves, .. } => moves.is_empty(),
            Edit::Cues { out, into, .. } => out == into,
            Edit::Facts { before, after } => before == after,
            Edit::Part { before, after } => before == after,
            Edit::PutService { .. } => false,
            Edit::All(edits) => edits.iter().all(Edit::is_nothing),
        }
    }

    /// The edit that undoes this one.
    #[must_use]
    pub fn inverse(&self) -> Edit {
        match self {
            Edit::Nothing => Edit::Nothing,
            Edit::Move { service, moves } => Edit::Move {
                service: service.clone(),
                moves: moves.iter().map(|m| Moved { label: m.label, before: m.after, after: m.before }).collect(),
            },
            Edit::Cues { service, out, into } => {
                Edit::Cues { service: service.clone(), out: into.clone(), into: out.clone() }
            }
            Edit::Facts { before, after } => Edit::Facts { before: after.clone(), after: before.clone() },
            Edit::PutService { at, service, put } => Edit::PutService { at: *at, service: service.clone(), put: !put },
            Edit::Part { before, after } => Edit::Part { before: after.clone(), after: before.clone() },
            Edit::All(edits) => Edit::All(edits.iter().rev().map(Edit::inverse).collect()),
        }
    }

    /// Applies the change. If that fails, the show stays as it was.
    ///
    /// # Errors
    /// [`EditError::Stale`] if the show has changed since the edit was made, [`EditError::NoService`].
    pub fn apply(&self, show: &mut Show) -> Result<(), EditError> {
        self.run(show, false)
    }

    /// Undoes the change. If that fails, the show stays as it was.
    ///
    /// # Errors
    /// As [`Edit::apply`].
    pub fn revert(&self, show: &mut Show) -> Result<(), EditError> {
        self.run(show, true)
    }

    /// Runs the edit forwards or backwards, without building the inverse.
    fn run(&self, show: &mut Show, back: bool) -> Result<(), EditError> {
        match self {
            Edit::Nothing => Ok(()),
            Edit::Move { service, moves } => move_cues(show, service, moves, back),
            Edit::Cues { service, out, into } => {
                let (out, into) = if back { (into, out) } else { (out, into) };
                swap_cues(show, service, out, into)
            }
            Edit::Facts { before, after } => {
                let (before, after) = if back { (after, before) } else { (before, after) };
                let slot = service_mut(show, &before.name)?;
                let cues = std::mem::take(&mut slot.cues);
                if *slot == **before {
                    *slot = (**after).clone();
                    slot.cues = cues;
                    Ok(())
                } else {
                    slot.cues = cues;
                    Err(EditError::Stale(before.name.clone()))
                }
            }
            Edit::PutService { at, service, put } => {
                let there = show.services.get(*at).is_some_and(|s| s == &**service);
                match (*put != back, there) {
                    (true, _) if *at <= show.services.len() && show.service(&service.name).is_none() => {
                        show.services.insert(*at, (**service).clone());
                        Ok(())
                    }
                    (false, true) => {
                        show.services.remove(*at);
                        Ok(())
                    }
                    _ => Err(EditError::Stale(service.name.clone())),
                }
            }
            Edit::Part { before, after } => {
                let (before, after) = if back { (after, before) } else { (before, after) };
                swap_part(show, before, after)
            }
            Edit::All(edits) => run_all(show, edits, back),
        }
    }
}

fn run_all(show: &mut Show, edits: &[Edit], back: bool) -> Result<(), EditError> {
    let order: Vec<&Edit> = if back { edits.iter().rev().collect() } else { edits.iter().collect() };
    for (done, edit) in order.iter().enumerate() {
        if let Err(why) = edit.run(show, back) {
            for edit in order[..done].iter().rev() {
                // This cannot be stale: the show is exactly as that edit left it.
                edit.run(show, !back)?;
            }
            return Err(why);
        }
    }
    Ok(())
}

fn move_cues(show: &mut Show, name: &str, moves: &[Moved], back: bool) -> Result<(), EditError> {
    let service = service_mut(show, name)?;
    let ends = |m: &Moved| if back { (m.after, m.before) } else { (m.before, m.after) };
    let fits = service
        .cues
        .matching(moves.iter().map(|m| m.label))
        .zip(moves)
        .all(|(cue, m)| cue.is_some_and(|c| c.at == ends(m).0));
    if !fits {
        return Err(EditError::Stale(name.to_owned()));
    }
    service.cues.re_anchor(moves.iter().map(|m| (m.label, ends(m).1)));
    Ok(())
}

fn swap_cues(show: &mut Show, name: &str, out: &[Cue], into: &[Cue]) -> Result<(), EditError> {
    let service = service_mut(show, name)?;
    let as_was = out.iter().all(|cue| service.cues.get(cue.label) == Some(cue));
    let leaving = |label| out.binary_search_by_key(&label, |c| c.label).is_ok();
    let free = into.iter().all(|cue| leaving(cue.label) || service.cues.get(cue.label).is_none());
    if !as_was || !free {
        return Err(EditError::Stale(name.to_owned()));
    }
    let staying = |label| into.binary_search_by_key(&label, |c| c.label).is_ok();
    let gone: Vec<Label> = out.iter().map(|c| c.label).filter(|&label| !staying(label)).collect();
    if !gone.is_empty() {
        service.cues.take(&gone);
    }
    service.cues.put(into.to_vec());
    Ok(())
}

/// Every part of a show with its field: the one list, for swapping parts and for comparing shows.
macro_rules! with_parts {
    ($then:ident) => {
        $then!(Title => title, Venue => venue, Version => version, Settings => settings, Ports => ports,
            Receivers => receivers, Presets => presets, Media => media, Outputs => outputs, Routes => routes,
            Hangs => hangs, Releases => releases, Tracks => tracks, Safety => safety, Kit => kit, Budget => budget,
            HandOuts => hand_outs, Crew => crew, Between => between, Papers => papers, Notes => notes, Stop => stop,
            Room => room, Week => week, Offers => offers)
    };
}

fn swap_part(show: &mut Show, before: &Part, after: &Part) -> Result<(), EditError> {
    macro_rules! swap {
        ($($variant:ident => $field:ident),*) => {
            match (before, after) {
                $((Part::$variant(old), Part::$variant(new)) => {
                    if show.$field != *old {
                        return Err(EditError::Stale(stringify!($field).to_owned()));
                    }
                    show.$field = new.clone();
                    Ok(())
                })*
                _ => Err(EditError::Stale("a part of the show".to_owned())),
            }
        };
    }
    with_parts!(swap)
}

/// The edits that lead from a show to a draft of it, part by part, in the order of the parts. Services and cues are no parts.
pub fn part_changes(show: &Show, draft: &Show) -> Vec<Edit> {
    let mut edits = Vec::new();
    macro_rules! compare {
        ($($variant:ident => $field:ident),*) => {$(
            if show.$field != draft.$field {
                edits.push(Edit::Part {
                    before: Box::new(Part::$variant(show.$field.clone())),
                    after: Box::new(Part::$variant(draft.$field.clone())),
                });
            }
        )*};
    }
    with_parts!(compare);
    edits
}
