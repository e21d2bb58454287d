//! A rehearsal: the run and its set-up, the ports, what it follows and what it records. It changes only through requests, and
//! through what the threads of the run report.

use super::bends::Bends;
use super::leads::{BandHits, bend_guide, kept_words, late_by, lead_band_on, lead_by_band};
use super::port_choices::PortChoices;
use super::recorder::Recorder;
use super::request::{RehearsalOptions, RehearsalRequest};
use super::run::{GuideBend, ReleaseStatus, Run};
use crate::document::{Document, Waker};
use crate::playback::Playback;
use letfall_core::show::Port;
use letfall_core::time::{SongSpan, SongTime, round};
use letfall_live::{
    Band, Command, Follow, Follower, Grip, LoopRefusal, MachineSpan, Mode, Moves, PortInput, Ports, ReleaseIndex,
    SystemPorts,
};
use letfall_platform::Awake;
use std::path::PathBuf;
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;

/// Seconds between two checks of the guide's position on its sound device.
const LOOK_AT_GUIDE: f64 = 0.1;
/// Two clocks that were read within this time count as read together. Our own figure.
const READ_TOGETHER: MachineSpan = MachineSpan::from_millis(5);

/// A rehearsal or a performance.
pub struct Rehearsal {
    /// Opens the machine's ports.
    pub ports: Box<dyn Fn() -> Box<dyn Ports>>,
    /// The run, once one has been set up.
    pub run: Option<Run>,
    /// The name of the person who holds releases open.
    pub holder: String,
    /// Turns hits on pads and keys into cues.
    pub recorder: Recorder,
    pub(super) options: RehearsalOptions,
    /// The program's own file, which is started once more to open contacts if this one dies.
    pub keeper: Option<PathBuf>,
    pub(super) folder: PathBuf,
    choices: PortChoices,
    /// The machine's ports, as of the last time they were looked for.
    outputs: Vec<String>,
    inputs: Vec<String>,
    pub(super) looked: Option<String>,
    /// The live band that is followed, and when pads or pedals were hit for it.
    pub(super) band: Option<Band>,
    pub(super) band_hits: BandHits,
    pub(super) input: Option<PortInput>,
    pub(super) follower: Option<Arc<Mutex<Follower>>>,
    /// The release that a hand is on. One press of the hand is for one release.
    pub(super) holding: Option<ReleaseIndex>,
    /// The number of the present press of the hand, or of the last.
    pub(super) grip: Grip,
    /// A hand is down that no longer holds anything, until it is lifted.
    pub(super) spent_hand: bool,
    /// When Esc was last pressed for the first time, by the screen's clock, in seconds.
    pub(super) escaped: Option<f64>,
    looked_at_guide: f64,
    awake: Option<Awake>,
    /// Threads of earlier runs that are still ending.
    pub(super) ending: Vec<JoinHandle<()>>,
}

impl Rehearsal {
    /// With this machine's settings from a folder.
    pub fn new(folder: PathBuf) -> Rehearsal {
        let choices = PortChoices::read(&folder);
        let options = RehearsalOptions {
            chase: true,
            looped: false,
            with_guide: true,
            band: false,
            keep_times: false,
            timecode: false,
            clock: false,
            follow: Follow::Nothing,
            input: choices.input.clone(),
        };
        Rehearsal {
            ports: Box::new(|| Box::new(SystemPorts)),
            run: None,
            holder: String::new(),
            recorder: Recorder::default(),
            options,
            keeper: None,
            choices,
            folder,
            outputs: Vec::new(),
            inputs: Vec::new(),
            looked: None,
            band: None,
            band_hits: BandHits::default(),
            input: None,
            follower: None,
            holding: None,
            grip: Grip::default(),
            spent_hand: false,
            escaped: None,
            looked_at_guide: 0.0,
            awake: None,
            ending: Vec::new(),
        }
    }

    /// The set-up for runs.
    pub const fn options(&self) -> &RehearsalOptions {
        &self.options
    }

    /// Names of the machine's ports to send to.
    pub fn outputs(&self) -> &[String] {
        &self.outputs
    }

    /// Names of the machine's ports to listen to.
    pub fn inputs(&self) -> &[String] {
        &self.inputs
    }

    /// The result of looking for ports: `None` before the first time, empty after success, otherwise why it failed.
    pub fn looked(&self) -> Option<&str> {
        self.looked.as_deref()
    }

    /// The machine's port that is used for one of the show's.
    pub fn chosen(&self, port: &Port) -> Option<String> {
        self.choices.output(&port.name, &self.outputs)
    }

    /// Whether a run is going on.
    pub fn runs(&self) -> bool {
        self.run.as_ref().is_some_and(Run::runs)
    }

    /// Whether a performance is going on.
    pub fn performs(&self) -> bool {
        self.run.as_ref().is_some_and(|r| r.runs() && r.mode == Mode::Perform)
    }

    /// The run was told to stop; the screen need not wait to hear that it did.
    pub const fn count_as_stopped(&mut self) {
        if let Some(run) = &mut self.run {
            run.place.moves = Moves::Stopped;
        }
    }

    /// The mode of the current run, or of the next one.
    pub fn mode(&self) -> Mode {
        self.run.as_ref().map_or(Mode::Rehearse, |r| r.mode)
    }

    /// The release that holding applies to: the next one whose time has not come.
    pub fn next_release(&self) -> Option<ReleaseIndex> {
        let run = self.run.as_ref()?;
        if run.second_try.is_some() {
            return run.second_try;
        }
        if run.place.moves == Moves::ByHand {
            return run.release_at_hand();
        }
        let now = run.song();
        let releases = run.plan.releases.iter().enumerate();
        releases.filter(|(_, r)| r.send >= now).min_by_key(|(_, r)| r.send).map(|(at, _)| ReleaseIndex::at(at))
    }

    /// Carries out a screen's request.
    pub fn request(
        &mut self,
        request: RehearsalRequest,
        document: &mut Document,
        playback: &mut Playback,
        wake: &Waker,
    ) {
        match request {
            RehearsalRequest::Toggle => self.toggle(document, playback, wake),
            RehearsalRequest::StopAll => self.stop_all(playback),
            RehearsalRequest::Escape(now) => {
                if self.escape(now, document) {
                    self.stop_all(playback);
                }
            }
            RehearsalRequest::Mode(mode) => self.set_mode(mode, document, wake),
            RehearsalRequest::Hold(held) => self.hold(held, document),
            RehearsalRequest::SecondTry(release) => {
                if let Some(run) = &self.run {
                    run.command(Command::SecondTry { release });
                }
            }
            RehearsalRequest::Bend(bend) => self.bend(bend, playback),
            RehearsalRequest::BandTap => self.band_tap(),
            RehearsalRequest::BandAt(bar) => self.band_at(bar, document, playback),
            RehearsalRequest::BandNudge(beats) => {
                if let Some(band) = &mut self.band {
                    band.nudge(beats);
                }
            }
            RehearsalRequest::StartAt(of_day) => self.start_at(of_day, document, playback, wake),
            RehearsalRequest::Holder(name) => self.holder = name,
            RehearsalRequest::Options(options) => self.set_options(options, document),
            RehearsalRequest::Connect { show, machine } => {
                self.choices.outputs.insert(show, machine);
                self.remember(document);
                self.connect(document);
            }
            RehearsalRequest::LookForPorts => {
                self.look();
                self.connect(document);
            }
            RehearsalRequest::Recorder(options) => self.recorder.options = options,
        }
    }

    /// Looks for the machine's ports.
    pub(super) fn look(&mut self) {
        let mut ports = (self.ports)();
        match (ports.outputs(), ports.inputs()) {
            (Ok(outputs), Ok(inputs)) => {
                (self.outputs, self.inputs) = (outputs, inputs);
                self.looked = Some(String::new());
            }
            (Err(why), _) | (_, Err(why)) => self.looked = Some(why),
        }
    }

    pub(super) fn names(&self, document: &Document) -> Vec<Option<String>> {
        document.show.ports.iter().map(|p| self.chosen(p)).collect()
    }

    /// Tells the run that the machine's ports, or the choice of them, have changed.
    fn connect(&mut self, document: &Document) {
        let names = self.names(document);
        if let Some(run) = &mut self.run {
            run.held_back(&names);
            if let Some(handle) = run.handle() {
                handle.connect(names);
            }
        }
    }

    fn remember(&self, document: &mut Document) {
        if let Err(why) = self.choices.write(&self.folder) {
            document.fail(format!("the choice of ports cannot be kept: {why}"));
        }
    }

    /// Ends the run; its threads finish in the background.
    pub(super) fn end_run(&mut self) {
        self.holding = None;
        self.ending.retain(|thread| !thread.is_finished());
        self.ending.extend(self.run.take().and_then(Run::end));
    }

    /// Ends the run. Returns a rehearsal for another show on the same machine: with its ports, with whatever opens contacts if the program
    /// dies, and waiting for the threads that are still ending.
    #[must_use]
    pub fn for_another_show(&mut self) -> Rehearsal {
        self.end_run();
        let mut other = Rehearsal::new(self.folder.clone());
        std::mem::swap(&mut other.ports, &mut self.ports);
        other.keeper = self.keeper.take();
        other.ending = std::mem::take(&mut self.ending);
        other
    }

    fn set_options(&mut self, options: RehearsalOptions, document: &mut Document) {
        let before = std::mem::replace(&mut self.options, options);
        // One clock leads. What was chosen last wins.
        if self.options.band && (self.options.follow != Follow::Nothing || self.options.with_guide) {
            if before.band {
                self.options.band = false;
                document.say("Another clock leads the time now, so the band is not followed");
            } else {
                (self.options.follow, self.options.with_guide) = (Follow::Nothing, false);
                document.say("The band leads the time now: say where it is on a downbeat, and tap along");
            }
        }
        if before.band && !self.options.band {
            self.band = None;
            if let Some(run) = self.run.as_mut() {
                run.band = None;
                run.command(Command::BandEnds);
            }
        }
        if self.options.follow != Follow::Nothing && self.options.with_guide {
            if before.with_guide {
                self.options.with_guide = false;
                document.say("What comes in leads the time now, so the guide does not play along");
            } else {
                self.options.follow = Follow::Nothing;
                document.say("The guide leads the time now, so nothing that comes in is followed");
            }
        }
        let sync = |o: &RehearsalOptions| (o.timecode, o.clock);
        if sync(&before) != sync(&self.options) && !self.runs() {
            // The threads are set up again at the next start.
            self.end_run();
        }
        if (before.follow, &before.input, before.band) != (self.options.follow, &self.options.input, self.options.band)
        {
            self.choices.input.clone_from(&self.options.input);
            self.remember(document);
            self.listen_in(document);
        }
    }

    fn set_mode(&mut self, mode: Mode, document: &mut Document, wake: &Waker) {
        if self.run.is_none() {
            self.make_ready(document, wake);
        }
        if let Some(run) = &mut self.run {
            run.mode = mode;
            run.command(Command::Mode(mode));
        }
    }

    /// Starts from the playhead, or stops.
    fn toggle(&mut self, document: &mut Document, playback: &mut Playback, wake: &Waker) {
        if self.runs() {
            return self.stop_all(playback);
        }
        self.start_in(MachineSpan::ZERO, document, playback, wake);
    }

    /// Starts from the playhead after a while.
    pub(super) fn start_in(
        &mut self,
        wait: MachineSpan,
        document: &mut Document,
        playback: &mut Playback,
        wake: &Waker,
    ) {
        let of = (document.revision, document.service);
        let kept = self.kept(wait, document);
        let stale = self.run.as_ref().is_none_or(|run| run.of != of || run.kept != kept);
        if stale {
            let mode = self.mode();
            self.make_ready_late(kept, document, wake);
            if let Some(run) = self.run.as_mut().filter(|_| mode == Mode::Perform) {
                run.mode = mode;
                run.command(Command::Mode(mode));
            }
        }
        let names = self.names(document);
        let Some(run) = self.run.as_mut() else { return };
        run.held_back(&names);
        if document.playhead >= run.plan.end {
            document.playhead = SongTime::ZERO;
        }
        run.command(Command::NewRun);
        run.locks.fill(ReleaseStatus::Closed(None));
        run.records.clear();
        run.recent.clear();
        run.release_line = None;
        run.second_try = None;
        run.tried_twice.clear();
        run.bends = Bends::new(run.plan.releases.len());
        (run.guide, run.band) = (None, None);
        self.band = None;
        let looped = self.options.looped && !self.options.band;
        if self.options.looped && self.options.band {
            document.say("The band leads the time, so the section is not looped");
        }
        let part = looped.then(|| section(document)).flatten();
        let part = match part.map(|(from, to)| run.plan.loop_refusal(from, to)) {
            Some(Some(why)) => {
                let why = match why {
                    LoopRefusal::Short => "it is shorter than a second".to_owned(),
                    LoopRefusal::Floods(port) => {
                        let port = run.plan.ports.get(port.index()).cloned().unwrap_or_default();
                        format!("its messages would keep \"{port}\" busy more than half of the time")
                    }
                };
                document.fail(format!("The section cannot be looped: {why}. Choose a longer one"));
                None
            }
            _ => part,
        };
        run.command(Command::Loop(part));
        playback.looped = part.is_some();
        playback.half = false;
        if self.options.with_guide && !playback.is_playing() {
            if wait > MachineSpan::ZERO {
                run.guide = Some(GuideBend::From(document.playhead));
            } else {
                playback.toggle(document, wake.clone());
            }
        }
        run.command(Command::Start { song: document.playhead, at: run.now() + wait, chase: self.options.chase });
        run.late = late_by(document, wait);
        if kept != SongSpan::ZERO {
            document.say(kept_words(&run.plan.prepared, document.playhead));
        }
        self.recorder.clear();
        self.awake = Some(Awake::begin());
    }

    /// Stops everything.
    pub fn stop_all(&mut self, playback: &mut Playback) {
        if let Some(run) = &self.run {
            run.stop_all();
        }
        playback.stop();
        self.lift();
    }

    /// Called once a frame on every screen: takes in reports, moves the playhead, collects hits.
    pub fn poll(&mut self, now: f64, document: &mut Document, playback: &mut Playback, wake: &Waker) {
        let was = self.runs();
        if was && let Some(run) = &self.run {
            let place = run.place;
            self.recorder.gather(|when| place.song_at(when));
        }
        self.hear_band();
        if let Some(run) = self.run.as_mut() {
            run.hear();
            for notice in run.notices.drain(..) {
                document.fail(notice);
            }
            if run.runs() {
                // Before it begins it stands where it will.
                document.playhead = run.begins_in().map_or_else(|| run.song(), |(song, _)| song);
                lead_band_on(run, self.band.as_mut());
                if self.options.band {
                    lead_by_band(run, self.band.as_ref());
                }
                bend_guide(run, self.options.with_guide, document, playback, wake);
                // The guide's device has its own clock, so the run follows what is actually heard.
                if now - self.looked_at_guide > LOOK_AT_GUIDE && self.options.follow == Follow::Nothing {
                    let before = run.now();
                    let heard = playback.heard();
                    // Two clocks are read, and a busy system may stop this thread between them. Such a reading would look like a
                    // jump of the song and close the locks, so the next frame takes another one.
                    if let Some(song) = heard
                        && run.now() - before <= READ_TOGETHER
                    {
                        self.looked_at_guide = now;
                        let song = SongTime::saturating(round::nearest(song * 1e6));
                        run.command(Command::Heard { song, at: before });
                    }
                }
            } else if was {
                playback.stop();
            }
        }
        if let Some(words) = self.awake.as_mut().and_then(Awake::told) {
            document.say(words);
        }
        if was && !self.runs() {
            self.awake = None;
            self.recorder.finish(document);
        }
        self.watch_follower();
    }
}

impl Drop for Rehearsal {
    /// Stops the run, and waits for its threads before the program ends.
    fn drop(&mut self) {
        self.end_run();
        for thread in self.ending.drain(..) {
            drop(thread.join());
        }
    }
}

/// The start and end of the section at the playhead, as song times.
fn section(document: &Document) -> Option<(SongTime, SongTime)> {
    let plan = document.plan().ok()?;
    let grid = plan.grid();
    let section = plan.service().song.section_at(grid.place_of(document.playhead_tick()).bar)?;
    let end = section.bar.saturating_add(i32::try_from(section.bars).unwrap_or(1));
    Some((grid.bar_time(section.bar), grid.bar_time(end)))
}
