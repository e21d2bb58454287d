//! One prepared service: its schedule, and what follows from it. Each part is worked out when it is first read, or ahead of
//! time by [`Prepared::complete`]. The result is the same either way and never changes.

use super::{OutsideFacts, PreparedShow};
use crate::check::{self, Checks, Code, Problem};
use crate::file;
use crate::fnv::Fnv;
use crate::schedule::{
    CallGroup, Decision, Row, Schedule, ScheduleError, SeatsInTime, SpokenCall, call_groups, calls, dependents,
    seats_in_time,
};
use crate::show::{Action, Cue, Kind, Label, Service, Show, TrackKey};
use crate::stage::{self, Stage};
use crate::time::{Grid, SongTime};
use std::collections::BTreeMap;
use std::hash::Hasher as _;
use std::sync::{Arc, OnceLock};

/// Why there is no plan of a service.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PrepareError {
    /// There is no such service.
    #[error("this show has no such service; add one or choose another")]
    NoService,
    /// Its grid cannot be built.
    #[error(transparent)]
    Schedule(#[from] ScheduleError),
}

impl PrepareError {
    /// The error as a problem of a service, for lists of problems.
    pub fn problem(&self, service: &str) -> Problem {
        Problem {
            code: Code::GridBroken,
            service: Some(service.to_owned()),
            cues: Vec::new(),
            what: self.to_string(),
            remedy: "mend the song's marks".to_owned(),
        }
    }
}

impl PreparedShow {
    /// Prepares one service, by its index in the show. Every plan is made by this function.
    ///
    /// # Errors
    /// [`PrepareError`]: there is no such service, or its grid cannot be built.
    pub fn prepare(self: &Arc<Self>, service: usize) -> Result<Arc<Prepared>, PrepareError> {
        Prepared::new(self.clone(), service).map(Arc::new)
    }

    /// Prepares the service with this name.
    ///
    /// # Errors
    /// As [`PreparedShow::prepare`].
    pub fn prepare_named(self: &Arc<Self>, name: &str) -> Result<Arc<Prepared>, PrepareError> {
        let at = self.show().services.iter().position(|s| s.name == name);
        self.prepare(at.ok_or(PrepareError::NoService)?)
    }

    /// Everything wrong with the show: its rig, then each service in order.
    pub fn problems(self: &Arc<Self>) -> Vec<Problem> {
        let mut found = self.rig_problems().to_vec();
        for (at, service) in self.show().services.iter().enumerate() {
            match self.prepare(at) {
                Ok(prepared) => found.extend_from_slice(prepared.problems()),
                Err(why) => found.push(why.problem(&service.name)),
            }
        }
        found
    }
}

/// One row of the score: a track, and its cues in order of landing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TrackRows {
    /// Its key.
    pub key: TrackKey,
    /// Its name.
    pub name: String,
    /// What its cues are.
    pub kind: Kind,
    /// Indices into [`Schedule::rows`], by land.
    pub rows: Vec<u32>,
}

/// One service, prepared.
#[derive(Debug)]
pub struct Prepared {
    of: Arc<PreparedShow>,
    service: usize,
    schedule: Schedule,
    stage: OnceLock<Stage>,
    calls: OnceLock<Vec<SpokenCall>>,
    call_groups: OnceLock<Vec<CallGroup>>,
    problems: OnceLock<Vec<Problem>>,
    tracks: OnceLock<Vec<TrackRows>>,
    rows_by_cue: OnceLock<Vec<u32>>,
    ends: OnceLock<Vec<SongTime>>,
    levels: OnceLock<Vec<[f32; 2]>>,
    seats: OnceLock<BTreeMap<Label, SeatsInTime>>,
    fingerprint: OnceLock<u64>,
}

impl Prepared {
    fn new(of: Arc<PreparedShow>, service: usize) -> Result<Prepared, PrepareError> {
        let facts = of.show().services.get(service).ok_or(PrepareError::NoService)?;
        let schedule = Schedule::build(of.show(), facts)?;
        Ok(Prepared {
            of,
            service,
            schedule,
            stage: OnceLock::new(),
            calls: OnceLock::new(),
            call_groups: OnceLock::new(),
            problems: OnceLock::new(),
            tracks: OnceLock::new(),
            rows_by_cue: OnceLock::new(),
            ends: OnceLock::new(),
            levels: OnceLock::new(),
            seats: OnceLock::new(),
            fingerprint: OnceLock::new(),
        })
    }

    /// Prepares a service of a hypothetical show: an earlier version, bars being tried, an edit about to be made. No outside
    /// facts are looked up for it.
    ///
    /// # Errors
    /// As [`PreparedShow::prepare`].
    pub fn hypothetical(show: Arc<Show>, service: usize) -> Result<Arc<Prepared>, PrepareError> {
        PreparedShow::new(show, OutsideFacts::none()).prepare(service)
    }

    /// Works out every part but the fingerprint now, so that nothing has to wait for one later.
    pub fn complete(&self) {
        self.of.rig_problems();
        self.problems();
        self.tracks();
        self.rows_by_cue();
        self.ends();
        self.levels();
    }

    /// The show, and what all its services share.
    pub const fn prepared_show(&self) -> &Arc<PreparedShow> {
        &self.of
    }

    /// The show, as it was when this was prepared.
    pub fn show(&self) -> &Arc<Show> {
        self.of.show()
    }

    /// The service's index in the show.
    pub const fn service_at(&self) -> usize {
        self.service
    }

    /// The service.
    pub fn service(&self) -> &Service {
        &self.of.show().services[self.service]
    }

    /// Bars, beats and song time.
    pub const fn grid(&self) -> &Arc<Grid> {
        &self.schedule.grid
    }

    /// What is sent, and when.
    pub const fn schedule(&self) -> &Schedule {
        &self.schedule
    }

    /// Where the song ends.
    pub fn end(&self) -> SongTime {
        self.grid().bar_time(self.service().song.end_bar())
    }

    /// By when it must be settled whether a release goes. `None` if no such cue is planned.
    pub fn decision(&self, release: Label) -> Option<Decision> {
        self.schedule.decision(self.show(), self.service(), release)
    }

    /// The cues that are not sent if a release does not go.
    pub fn dependents(&self, release: Label) -> Vec<Label> {
        dependents(self.show(), self.service(), release)
    }

    /// In how many seats a release is in time. `None` if it does not land as a fabric passes the sightline, or if the room does not say
    /// who sits and who stands where.
    pub fn seats_in_time(&self, release: Label) -> Option<&SeatsInTime> {
        self.seats.get_or_init(|| self.all_seats_in_time()).get(&release)
    }

    fn all_seats_in_time(&self) -> BTreeMap<Label, SeatsInTime> {
        let Some(room) = self.of.room() else { return BTreeMap::new() };
        let rows = self.schedule.rows.iter().filter(|row| row.label.kind == Kind::Release);
        rows.filter_map(|row| {
            let cue = self.cue(row);
            let Action::Release { release, .. } = &cue.does else { return None };
            let hang = &self.show().release(release)?.hang;
            let reveal = room.reveals.iter().find(|reveal| reveal.hang == *hang)?;
            Some((row.label, seats_in_time(self.show(), self.stage(), cue, row, reveal)?))
        })
        .collect()
    }

    /// What the audience sees.
    pub fn stage(&self) -> &Stage {
        self.stage.get_or_init(|| Stage::new(self.show(), self.service(), &self.schedule))
    }

    /// The called cues, in order of their go.
    pub fn calls(&self) -> &[SpokenCall] {
        self.calls.get_or_init(|| calls(self.show(), self.service(), &self.schedule))
    }

    /// What the stage manager says, in order. Calls that belong together are one group.
    pub fn call_groups(&self) -> &[CallGroup] {
        self.call_groups.get_or_init(|| call_groups(self.show(), self.service(), self.schedule(), self.calls()))
    }

    /// What is wrong with the service, worst first. A problem with its guide recording comes last. The rig's own problems are
    /// in [`PreparedShow::rig_problems`].
    pub fn problems(&self) -> &[Problem] {
        self.problems.get_or_init(|| {
            let service = self.service();
            let mut found = check::service_problems(Checks {
                show: self.show(),
                service,
                schedule: &self.schedule,
                stage: self.stage(),
                calls: self.calls(),
                call_groups: self.call_groups(),
                found: Vec::new(),
            });
            if let Some(guide) = &service.song.guide
                && let Some(sum) = self.of.facts().guide(guide)
            {
                found.extend(check::guide(service, guide, sum));
            }
            found
        })
    }

    /// How many problems the rig and the service have.
    pub fn problem_count(&self) -> usize {
        self.of.rig_problems().len() + self.problems().len()
    }

    /// The rig's problems, then the service's.
    pub fn all_problems(&self) -> impl Iterator<Item = &Problem> {
        self.of.rig_problems().iter().chain(self.problems())
    }

    /// Every track with its cues in order of landing.
    pub fn tracks(&self) -> &[TrackRows] {
        self.tracks.get_or_init(|| {
            let rows = &self.schedule.rows;
            let tracks = self.show().tracks.iter();
            let mut tracks: Vec<TrackRows> = tracks
                .map(|t| TrackRows { key: t.key.clone(), name: t.name.clone(), kind: t.kind, rows: Vec::new() })
                .collect();
            let places: BTreeMap<&TrackKey, usize> =
                self.show().tracks.iter().enumerate().map(|(at, track)| (&track.key, at)).collect();
            let mut order: Vec<(SongTime, Label, u32)> =
                (0u32..).zip(rows).map(|(at, row)| (row.land, row.label, at)).collect();
            order.sort_unstable();
            for (_, _, at) in order {
                if let Some(track) = places.get(&self.cue(&rows[at as usize]).track) {
                    tracks[*track].rows.push(at);
                }
            }
            tracks
        })
    }

    /// The index in [`Schedule::rows`] of each cue, in the order of the service's cue list.
    fn rows_by_cue(&self) -> &[u32] {
        self.rows_by_cue.get_or_init(|| {
            let mut places = vec![0u32; self.service().cues.len()];
            for (at, row) in (0u32..).zip(&self.schedule.rows) {
                places[row.cue as usize] = at;
            }
            places
        })
    }

    /// The row of the cue with this label.
    pub fn row(&self, label: Label) -> Option<&Row> {
        let cue = self.service().cues.index_of(label)?;
        self.schedule.rows.get(*self.rows_by_cue().get(cue)? as usize)
    }

    /// The cue of a row of the schedule.
    pub fn cue(&self, row: &Row) -> &Cue {
        &self.service().cues.as_slice()[row.cue as usize]
    }

    /// When each cue's effect ends, by index in [`Schedule::rows`].
    pub fn ends(&self) -> &[SongTime] {
        self.ends.get_or_init(|| stage::ends(self.show(), self.service(), &self.schedule, self.stage()))
    }

    /// The light's level before and after each row of the schedule, 0 to 1, on its track.
    pub fn levels(&self) -> &[[f32; 2]] {
        self.levels.get_or_init(|| stage::levels(self.show(), self.service(), &self.schedule))
    }

    /// A fingerprint of everything the plan was made from: the show's bytes, the service, and what was looked up. Two plans
    /// with the same fingerprint were made from the same input (FNV-1a, 64 bits: it guards against mistakes, not against
    /// tampering).
    pub fn fingerprint(&self) -> u64 {
        *self.fingerprint.get_or_init(|| {
            let mut hash = Fnv::default();
            hash.write(&file::write(self.show()));
            hash.write(self.service().name.as_bytes());
            if let Some(guide) = &self.service().song.guide {
                let found = match self.of.facts().guide(guide) {
                    None => "not looked for",
                    Some(None) => "not there",
                    Some(Some(sum)) => sum,
                };
                hash.write(found.as_bytes());
            }
            hash.finish()
        })
    }
}
