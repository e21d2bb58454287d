//! The film that is looked at, and everything that is known of it. Changed only by its requests.

use super::close_up::CloseUp;
use super::looking::{self, Coming};
use super::proposals;
use super::reading::{self, Against, Opened, Placed};
use super::request::{ByHand, FilmRequest};
use super::results::Results;
use crate::document::{Document, Waker};
use crate::jobs::Job;
use letfall_core::edit::Edit;
use letfall_core::filmed::FilmPage;
use letfall_core::prepared::Prepared;
use letfall_core::show::{Label, Service};
use letfall_film::align::Run;
use letfall_film::measure::{Delays, DropSeen, Filmed, Filming, Look, Marks, Report, SentLate, Taken, look, taken};
use letfall_film::page::page;
use letfall_film::picture::{Fall, Region, Regions};
use letfall_film::study::{self, clap};
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::SystemTime;

/// The time from one picture to the next while none is known, seconds.
const USUAL_STEP: f64 = 0.04;
/// How exactly a clap's own beginning is heard, seconds: beside half the time from picture to picture.
const CLAP_WITHIN: f64 = 0.002;

/// What was looked for and found.
struct Found {
    plan: Arc<Prepared>,
    look: Look,
    report: Report,
}

/// The film that is looked at.
#[derive(Default)]
pub struct FilmStudy {
    opened: Option<Opened>,
    /// The service that was filmed.
    service: String,
    coming: Option<Job<Result<Coming, String>>>,
    /// Whether what comes was looked for with what was known then: if that changes, it is of no use.
    measuring: bool,
    /// Counts films, and places of a film: what a screen keeps of one is of no use for another.
    generation: u64,
    /// For every film that was opened here, the delays of receivers when it first was: it was made with those, and taken or not, opened again or
    /// not, it is measured beside them.
    made_with: BTreeMap<(PathBuf, Option<SystemTime>), Delays>,
    close_up: CloseUp,
    at: f64,
    forward: bool,
    regions: Regions,
    /// Regions that nobody has accepted yet.
    proposed: Vec<Region>,
    filming: Filming,
    /// When the hands of somebody who claps meet, seconds of the film's clock.
    clap: Option<f64>,
    sent: SentLate,
    /// The name of the log that says what was sent late.
    log: String,
    found: Option<Found>,
    marks: Marks,
    /// Falls that a person has confirmed, as they were then.
    confirmed: BTreeMap<(usize, Label), Fall>,
    results: Option<Results>,
    /// What the results were put together from, so that they are made anew when the show changes.
    of: Option<u64>,
}

impl FilmStudy {
    /// The film, if one is open.
    pub const fn opened(&self) -> Option<&Opened> {
        self.opened.as_ref()
    }

    /// The service that was filmed.
    pub fn service(&self) -> &str {
        &self.service
    }

    /// What goes on in the background: its words, how far it is, the step.
    pub fn going_on(&self) -> Option<(&str, f32, &'static str)> {
        self.coming.as_ref().map(|job| (job.words.as_str(), job.share(), job.step()))
    }

    /// The pictures around the one that is shown.
    pub const fn close_up(&self) -> &CloseUp {
        &self.close_up
    }

    /// The time that is shown, seconds of the film's clock.
    pub const fn at(&self) -> f64 {
        self.at
    }

    /// What is seen where.
    pub const fn regions(&self) -> &Regions {
        &self.regions
    }

    /// Regions that are proposed and that nobody has accepted yet.
    pub fn proposed(&self) -> &[Region] {
        &self.proposed
    }

    /// How it was filmed.
    pub const fn filming(&self) -> &Filming {
        &self.filming
    }

    /// When the hands of somebody who claps meet, seconds of the film's clock.
    pub const fn clap(&self) -> Option<f64> {
        self.clap
    }

    /// The name of the log that says what was sent late; empty if none does.
    pub fn log(&self) -> &str {
        &self.log
    }

    /// What was found and marked.
    pub const fn results(&self) -> Option<&Results> {
        self.results.as_ref()
    }

    /// Whether somebody has looked for what changed, and the show has not changed since.
    pub fn is_measured(&self, document: &Document) -> bool {
        // What was found of another show is forgotten as soon as the results are made anew.
        self.found.is_some() && self.of == Some(document.revision)
    }

    /// Whether a person has looked at a fall and it is right. Another proposal is another fall.
    pub fn is_confirmed(&self, run: usize, label: Label) -> bool {
        self.confirmed.get(&(run, label)).is_some_and(|fall| self.fall(run, label).as_ref() == Some(fall))
    }

    /// The fall of a cue as it is shown.
    fn fall(&self, run: usize, label: Label) -> Option<Fall> {
        let row = self.results.as_ref()?.rows.iter().find(|row| (row.run, row.label) == (run, label))?;
        row.cue.as_ref()?.seen.ok()?.fall
    }

    /// Changes with every film and every place of it.
    pub const fn generation(&self) -> u64 {
        self.generation
    }

    /// The falls that are shown and that a person has confirmed.
    pub fn confirmed_drops(&self) -> Vec<DropSeen> {
        let drops = self.results.iter().flat_map(|results| &results.drops);
        drops.filter(|drop| self.is_confirmed(drop.run, drop.label)).cloned().collect()
    }

    /// What was found is of no use any more, nor what is just being looked for.
    fn forget_found(&mut self) {
        self.found = None;
        if std::mem::take(&mut self.measuring) {
            self.coming = None;
        }
    }

    /// Whether a cue was marked by hand in a run.
    pub fn is_marked(&self, run: usize, label: Label) -> bool {
        self.marks.contains_key(&(run, label))
    }

    /// The run that goes on at a time of the film, or the nearest.
    pub fn run_at(&self, at: f64) -> Option<&Run> {
        let opened = self.opened.as_ref()?;
        let heard = at - opened.sound.begins;
        let away = |run: &&Run| (run.from - heard).max(heard - run.to).max(0.0);
        opened.placed.runs().iter().min_by(|a, b| away(a).total_cmp(&away(b)))
    }

    /// What of the song is seen at a time of the film, seconds; `None` where no run is.
    pub fn song_at(&self, at: f64) -> Option<f64> {
        let begins = self.opened.as_ref()?.sound.begins;
        Some(self.run_at(at)?.song(at + self.filming.sound_late - begins))
    }

    /// The usual time from one picture to the next, seconds.
    pub fn step(&self) -> f64 {
        let found = self.found.as_ref().map(|found| found.report.step);
        found.or_else(|| self.close_up.step()).unwrap_or(USUAL_STEP)
    }

    /// Opens a film of the service on screen.
    pub fn open(&mut self, document: &mut Document, path: PathBuf, wake: Waker) {
        let Some(service) = document.current().map(|service| service.name.clone()) else {
            return document.fail("add a service first: a film is laid against its song");
        };
        let against = against(document);
        let words = format!("Opening {}", path.display());
        let job = Job::start(words, reading::STEPS, wake, move |job| {
            Ok(Coming::Opened(service, Box::new(reading::open(&path, &against, job)?)))
        });
        match job {
            // What is open stays until the other is there.
            Ok(job) => (self.coming, self.measuring) = (Some(job), false),
            Err(why) => document.fail(why),
        }
    }

    /// Takes the log of the run that was filmed.
    pub fn take_log(&mut self, document: &mut Document, name: String, sent: SentLate) {
        if self.opened.as_ref().is_some_and(|opened| opened.placed.runs().len() > 1) {
            return document.fail("the film has several runs, and a log is of one: cut the film, or leave the log out");
        }
        document.say(format!("What was sent late by {name} does not count as late of a device"));
        (self.sent, self.log) = (sent, name);
        self.forget_found();
        self.renew(document);
    }

    /// Called once a frame.
    pub fn poll(&mut self, document: &mut Document, wake: &Waker) {
        match self.close_up.poll(self.at) {
            Ok(Some(at)) => self.at = at,
            Ok(None) => {}
            Err(why) => document.fail(why),
        }
        if let Some(done) = self.coming.as_mut().and_then(Job::poll) {
            self.coming = None;
            self.measuring = false;
            match done.and_then(|done| done) {
                Ok(Coming::Opened(service, opened)) => self.take_opened(document, service, *opened),
                Ok(Coming::Placed(placed)) => self.take_place(document, placed),
                Ok(Coming::Proposed(proposed)) => {
                    document.say(proposals::words(&proposed));
                    self.proposed = proposed.regions;
                }
                Ok(Coming::Measured(plan, look, report)) => self.take_found(document, plan, *look, *report),
                Err(why) => document.fail(why),
            }
        }
        let Some(opened) = &self.opened else { return };
        if self.of != Some(document.revision) && !document.is_preparing() {
            self.renew(document);
        } else if opened.has_pictures()
            && let Err(why) = self.close_up.want(&opened.path, self.at, self.forward, wake)
        {
            document.fail(why);
        }
    }

    fn take_found(&mut self, document: &mut Document, plan: Arc<Prepared>, look: Look, report: Report) {
        if !is_of(&plan, document) {
            return document.fail("the show has changed while the film was looked through; look again");
        }
        let length = self.opened.as_ref().map_or(0.0, |opened| opened.length);
        let within = report.cues.iter().filter(|cue| (0.0..=length).contains(&cue.planned));
        let (seen, all) = within.fold((0, 0), |(seen, all), cue| (seen + usize::from(cue.seen.is_ok()), all + 1));
        document.say(format!("{seen} of {all} changes were found; nothing is taken yet"));
        self.found = Some(Found { plan, look, report });
        self.renew(document);
    }

    fn take_opened(&mut self, document: &mut Document, service: String, opened: Opened) {
        // What is seen where is likely to be the same in the next film.
        let regions = std::mem::take(&mut self.regions);
        let (mut made_with, generation) = (std::mem::take(&mut self.made_with), self.generation + 1);
        let now = || document.show.receivers.iter().map(|r| (r.key.clone(), r.latency.mean)).collect();
        made_with.entry((opened.path.clone(), opened.written)).or_insert_with(now);
        *self = FilmStudy { service, generation, made_with, regions, ..FilmStudy::default() };
        match &opened.placed {
            Placed::Nowhere(why) => document.fail(format!("{} is open, but lies nowhere yet. {why}", opened.name)),
            placed => document.say(format!(
                "{} lies against the song{}",
                opened.name,
                if placed.runs().len() > 1 { format!(", {} times", placed.runs().len()) } else { String::new() }
            )),
        }
        self.at = opened.placed.runs().first().map_or(0.0, |run| (run.from + opened.sound.begins).max(0.0));
        self.opened = Some(opened);
        self.renew(document);
    }

    fn take_place(&mut self, document: &mut Document, placed: Placed) {
        let has_place = self.opened.as_ref().is_some_and(|opened| !opened.placed.runs().is_empty());
        if let Placed::Nowhere(why) = &placed {
            document.fail(why.clone());
            if has_place {
                // A place that a person has said is worth more than none.
                return;
            }
        }
        if placed.runs().len() > 1 && !self.log.is_empty() {
            document.say(format!("The film has several runs, so {} is left out", self.log));
            (self.sent, self.log) = (SentLate::new(), String::new());
        }
        if let Some(opened) = &mut self.opened {
            opened.placed = placed;
        }
        self.generation += 1;
        self.forget_found();
        self.proposed.clear();
        self.marks.clear();
        self.confirmed.clear();
        self.renew(document);
    }

    /// Puts the results together anew.
    fn renew(&mut self, document: &Document) {
        self.of = Some(document.revision);
        self.results = None;
        let (Some(opened), Ok(plan)) = (&self.opened, document.newest_plan()) else { return };
        if plan.service().name != self.service || opened.placed.runs().is_empty() {
            return;
        }
        // What was measured against a plan of before is not mixed with the plan of now.
        if self.found.as_ref().is_some_and(|found| !is_of(&found.plan, document)) {
            self.found = None;
        }
        let plan = self.found.as_ref().map_or(plan, |found| found.plan.clone());
        let Some((look, report)) = self.looked(&plan) else { return };
        let Some(delays) = self.made_with.get(&(opened.path.clone(), opened.written)) else { return };
        let (filmed, length) = (self.filmed(&plan, &look), opened.length);
        self.results = Some(Results::new(plan.clone(), &filmed, &report, (&self.marks, delays), length));
    }

    /// Carries out what the user asked for. Returns an edit of the show, if it is one, and its name.
    pub fn request(&mut self, request: FilmRequest, document: &mut Document, wake: &Waker) -> Option<(String, Edit)> {
        match request {
            FilmRequest::Show(at) => {
                let end = self.opened.as_ref().map_or(0.0, |opened| opened.length);
                self.close_up.forget_steps();
                self.forward = at >= self.at;
                self.at = at.clamp(0.0, end.max(0.0));
            }
            FilmRequest::Step(steps) => self.step_on(steps, document, wake),
            FilmRequest::PlaceByHand(by_hand) => self.place_by_hand(by_hand, document),
            FilmRequest::PlaceBySound => self.place_by_sound(document, wake.clone()),
            FilmRequest::Filmed(distance_m, rolling) => {
                (self.filming.distance_m, self.filming.rolling) = (distance_m, rolling);
                self.forget_found();
                self.renew(document);
            }
            FilmRequest::Clap(there) => self.take_clap(there, document),
            FilmRequest::Regions(regions) => {
                self.regions = regions;
                self.forget_found();
                self.renew(document);
            }
            FilmRequest::Propose => self.propose(document, wake.clone()),
            FilmRequest::Accept(number, right) => self.accept(number, right, document),
            FilmRequest::Measure => self.measure(document, wake.clone()),
            FilmRequest::Stop => {
                (self.coming, self.measuring) = (None, false);
                document.say("Stopped; nothing was changed");
            }
            FilmRequest::Mark(run, label, mark) => {
                match mark {
                    Some(mark) => self.marks.insert((run, label), mark),
                    None => self.marks.remove(&(run, label)),
                };
                self.confirmed.remove(&(run, label));
                self.renew(document);
            }
            FilmRequest::Confirm(run, label, right) => {
                match self.fall(run, label).filter(|_| right) {
                    Some(fall) => self.confirmed.insert((run, label), fall),
                    None => self.confirmed.remove(&(run, label)),
                };
            }
            // The editor has the pages.
            FilmRequest::Print => {}
            FilmRequest::Take(what) => return self.take(what, document),
            FilmRequest::Close => {
                let (regions, made_with) = (std::mem::take(&mut self.regions), std::mem::take(&mut self.made_with));
                let generation = self.generation + 1;
                *self = FilmStudy { generation, made_with, regions, ..FilmStudy::default() };
            }
        }
        None
    }

    fn step_on(&mut self, steps: i32, document: &mut Document, wake: &Waker) {
        let Some(opened) = self.opened.as_ref().filter(|opened| opened.has_pictures()) else { return };
        self.forward = steps > 0;
        match self.close_up.stepped(&opened.path, self.at, steps, wake) {
            Ok(Some(at)) => self.at = at,
            Ok(None) => {}
            Err(why) => document.fail(why),
        }
    }

    fn place_by_hand(&mut self, by_hand: ByHand, document: &mut Document) {
        let (Some(opened), Ok(plan)) = (&self.opened, document.newest_plan()) else { return };
        let grid = plan.grid();
        let song = grid.time_at(grid.tick_of(by_hand.place)).micros() as f64 / 1e6;
        let Some(run) = study::by_hand(&opened.sound, self.at, song, by_hand.slow, by_hand.sudden) else {
            return document.fail("nothing sudden is heard within 0.15 s of here: go nearer to the clap or click");
        };
        let within = run.standard * 2000.0;
        self.take_place(document, Placed::Hand(run));
        document.say(format!("Bar {} is heard here, within {within:.0} ms or so", by_hand.place));
    }

    fn place_by_sound(&mut self, document: &mut Document, wake: Waker) {
        let Some(opened) = &self.opened else { return };
        let (path, sound, against) = (opened.path.clone(), opened.sound.clone(), against(document));
        let words = format!("Looking for the place of {}", opened.name);
        let job = Job::start(words, reading::STEPS, wake, move |job| {
            Ok(Coming::Placed(reading::place(&path, &sound, &against, job)?))
        });
        match job {
            Ok(job) => self.coming = Some(job),
            Err(why) => document.fail(why),
        }
    }

    fn take_clap(&mut self, there: bool, document: &mut Document) {
        let usual = Filming::default();
        let (mut late, mut within, mut seen) = (usual.sound_late, usual.sound_late_within, None);
        if there {
            let Some(opened) = &self.opened else { return };
            // The picture says when, and not where somebody clicked between two.
            let Some(stamp) = self.close_up.at(self.at).map(|picture| picture.at) else {
                return document.fail("this picture is still being read; say it again in a moment");
            };
            let Some(heard) = clap(&opened.sound, stamp) else {
                return document.fail(
                    "no clap is heard within 0.3 s of this picture: go to the one in which the hands meet, then say it there",
                );
            };
            (late, within, seen) = (heard, self.step() / 2.0 + CLAP_WITHIN, Some(stamp));
            document.say(format!("The film has its sound {:+.0} ms after its picture", late * 1e3));
        }
        (self.filming.sound_late, self.filming.sound_late_within, self.clap) = (late, within, seen);
        self.forget_found();
        self.renew(document);
    }

    /// The plan of the service that was filmed.
    fn plan(&self, document: &Document) -> Result<Arc<Prepared>, String> {
        let plan = document.newest_plan()?;
        if plan.service().name != self.service {
            return Err(format!("the film is of {}; show that service first", self.service));
        }
        Ok(plan)
    }

    fn propose(&mut self, document: &mut Document, wake: Waker) {
        let Some(opened) = &self.opened else { return };
        let plan = match self.plan(document) {
            Ok(plan) => plan,
            Err(why) => return document.fail(why),
        };
        let job = looking::propose(&plan, opened, &self.regions, &self.filming, wake);
        match job {
            Ok(job) => (self.coming, self.measuring) = (Some(job), true),
            Err(why) => document.fail(why),
        }
    }

    /// A person says whether a proposed region is right.
    fn accept(&mut self, number: usize, right: bool, document: &Document) {
        if number >= self.proposed.len() {
            return;
        }
        let region = self.proposed.remove(number);
        if right {
            self.regions.regions.push(proposals::named(region, &self.regions));
            self.forget_found();
            self.renew(document);
        }
    }

    fn measure(&mut self, document: &mut Document, wake: Waker) {
        let Some(opened) = &self.opened else { return };
        let plan = match self.plan(document) {
            Ok(plan) => plan,
            Err(why) => return document.fail(why),
        };
        let job = looking::measure(plan, opened, &self.regions, (&self.filming, &self.sent), wake);
        match job {
            Ok(job) => (self.coming, self.measuring) = (Some(job), true),
            Err(why) => document.fail(why),
        }
    }

    /// What is taken into the show: delays, and drops that a person has confirmed.
    pub fn edit(&self, what: Taken, document: &Document) -> Option<Edit> {
        let (results, opened) = (self.results.as_ref()?, self.opened.as_ref()?);
        let edit = taken(&document.show, &results.receivers, &self.confirmed_drops(), what, &opened.name);
        (!edit.is_nothing()).then_some(edit)
    }

    /// What is shown, as a page.
    pub fn page(&self) -> Option<FilmPage> {
        let (results, opened) = (self.results.as_ref()?, self.opened.as_ref()?);
        let (look, _) = self.looked(&results.plan)?;
        let filmed = self.filmed(&results.plan, &look);
        let seen = (&*results.receivers, &*results.drops);
        let confirmed = |run, label| self.is_confirmed(run, label);
        Some(page(&opened.name, &filmed, &results.report, self.clap.is_some(), seen, confirmed))
    }

    fn filmed<'a>(&'a self, plan: &'a Prepared, look: &'a Look) -> Filmed<'a> {
        Filmed { plan, regions: &self.regions, look, filming: &self.filming, sent: &self.sent }
    }

    /// What was looked for and found, or what would be: nothing yet.
    fn looked(&self, plan: &Prepared) -> Option<(Look, Report)> {
        if let Some(found) = &self.found {
            return Some((found.look.clone(), found.report.clone()));
        }
        let opened = self.opened.as_ref()?;
        let (runs, begins) = (opened.placed.runs().to_vec(), opened.sound.begins);
        let look = look(plan, &Regions::default(), runs, begins, &self.filming).ok()?;
        // Nothing was looked for, so nothing was missed.
        let report = Report { nowhere: Vec::new(), ..Report::empty(&look, &self.filming, self.step()) };
        Some((look, report))
    }

    fn take(&self, what: Taken, document: &mut Document) -> Option<(String, Edit)> {
        let Some(edit) = self.edit(what, document) else {
            document.fail("there is nothing to take: tick what you want, and confirm falls picture by picture first");
            return None;
        };
        Some((format!("Take what {} shows", self.opened.as_ref()?.name), edit))
    }
}

/// What a film of the service on screen is laid against.
fn against(document: &Document) -> Against {
    Against { guide: document.guide_path(), zero: document.current().and_then(Service::zero) }
}

/// Whether a plan is of the show as it is now.
fn is_of(plan: &Prepared, document: &Document) -> bool {
    Arc::ptr_eq(plan.show(), &document.show) || **plan.show() == *document.show
}
