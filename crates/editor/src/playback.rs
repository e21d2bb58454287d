//! Playing the guide: play, stop, loop a section, half speed, a click. Also takes taps while it plays. Does not depend on any
//! screen.

use crate::document::{Document, Waker};
use crate::jobs::{Job, JobContext};
use letfall_core::midi::MidiInput;
use letfall_core::prepared::Prepared;
use letfall_core::time::{SongTime, Tick, TickSpan, round};
use letfall_live::{PortInput, Ports};
use letfall_sound::bars::Taps;
use letfall_sound::play::{Click, DecodedCache, Device, Part, Player, Request, Sound, System};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Instant;

/// When pads or keys were struck.
type PadTimes = Arc<Mutex<Vec<Instant>>>;

/// The playback of the guide, and the taps.
pub struct Playback {
    player: Player,
    cache: Option<(PathBuf, DecodedCache)>,
    coming: Option<(PathBuf, Job<Result<DecodedCache, String>>)>,
    /// Whether to loop the section under the playhead.
    pub looped: bool,
    /// Whether to play at half speed.
    pub half: bool,
    /// Whether to click on every beat.
    pub click: bool,
    /// The taps.
    pub taps: Taps,
    /// The MIDI input whose pads or keys also count as taps, and when they were struck.
    pads: Option<(PortInput, PadTimes)>,
}

impl Default for Playback {
    fn default() -> Playback {
        Playback::on(Box::new(System::default()))
    }
}

/// Decodes a guide for playback.
fn decode(path: &Path, mut go_on: impl FnMut() -> bool) -> Result<DecodedCache, String> {
    let fail = |why: String| format!("{}: {why}", path.display());
    let mut decoder = letfall_files::guides::open(path).map_err(fail)?;
    let result = DecodedCache::of(&mut decoder, &mut go_on).map_err(|e| fail(letfall_files::io_words(&e)))?;
    result.ok_or_else(|| fail("it was stopped".to_owned()))
}

/// All counted beats of a song, for the click.
fn clicks(plan: &Prepared) -> Vec<Click> {
    let grid = &plan.grid();
    let song = &plan.service().song;
    let first = plan.show().settings.first_bar();
    let beats = |bar: i32| {
        let metre = grid.metre_at(bar);
        let start = grid.bar_tick(bar);
        (1..=grid.beats_in(bar)).map(move |beat| (start + TickSpan::new(metre.beat_offset(beat)), beat == 1))
    };
    let click = |(tick, accent): (Tick, bool)| Click { at: grid.time_at(tick).secs_f64(), accent };
    (first..song.end_bar()).flat_map(beats).map(click).collect()
}

impl Playback {
    /// With a given sound device.
    pub fn on(device: Box<dyn Device>) -> Playback {
        Playback {
            player: Player::new(device),
            cache: None,
            coming: None,
            looped: false,
            half: false,
            click: false,
            taps: Taps::default(),
            pads: None,
        }
    }

    /// Whether something is playing or about to play.
    pub const fn is_playing(&self) -> bool {
        self.player.is_playing() || self.coming.is_some()
    }

    /// Plays from the playhead, or stops if it is playing.
    pub fn toggle(&mut self, document: &mut Document, wake: Waker) {
        if self.is_playing() {
            self.player.stop();
            self.coming = None;
        } else {
            self.play(document, wake);
        }
    }

    /// Restarts what is playing, to apply changed settings.
    pub fn again(&mut self, document: &mut Document, wake: Waker) {
        if self.player.is_playing() {
            self.play(document, wake);
        }
    }

    fn play(&mut self, document: &mut Document, wake: Waker) {
        let Some(path) = document.guide_path() else {
            document.say("Playing in silence: the song has no guide recording");
            return self.start(document, None);
        };
        if let Some((_, cache)) = self.cache.as_ref().filter(|(of, _)| *of == path) {
            let cache = cache.clone();
            return self.start(document, Some(cache));
        }
        let own = path.clone();
        let work = move |job: &JobContext<Result<DecodedCache, String>>| decode(&own, || job.step(0, "decoding"));
        match Job::start("Decoding the guide", 1, wake, work) {
            Ok(work) => {
                document.say("Decoding the guide…");
                self.coming = Some((path, work));
            }
            Err(why) => document.fail(why),
        }
    }

    fn start(&mut self, document: &mut Document, cache: Option<DecodedCache>) {
        let Ok(plan) = document.plan() else { return };
        let grid = &plan.grid();
        let song = &plan.service().song;
        let heard = cache.as_ref().map_or(0.0, |s| s.frames() as f64 / s.sample_rate());
        let ends = grid.bar_time(song.end_bar()).secs_f64().max(heard);
        let bar = grid.place_of(document.playhead_tick()).bar;
        let part = song.section_at(bar).filter(|_| self.looped).map(|section| {
            let end = section.bar.saturating_add(i32::try_from(section.bars).unwrap_or(1));
            Part { from: grid.bar_time(section.bar).secs_f64(), to: grid.bar_time(end).secs_f64() }
        });
        if self.looped && part.is_none() {
            document.say("The playhead is in no section, so there is nothing to loop");
        }
        let mut from = document.playhead.secs_f64();
        if from >= ends {
            from = 0.0;
        }
        let clicks = if self.click { clicks(&plan) } else { Vec::new() };
        let speed = if self.half { 0.5 } else { 1.0 };
        let sound = cache.map(|s| Box::new(s) as Box<dyn Sound>);
        self.player.play(Request { sound, from, until: ends, speed, looped: part, clicks });
    }

    /// Stops.
    pub fn stop(&mut self) {
        self.player.stop();
        self.coming = None;
    }

    /// The song time in seconds that a device is playing now; `None` in silence, because then there is no device clock to
    /// follow.
    pub fn heard(&mut self) -> Option<f64> {
        if self.player.is_heard() { self.player.position() } else { None }
    }

    /// Called once a frame: moves the playhead to what is heard. Returns whether something is playing.
    pub fn poll(&mut self, document: &mut Document) -> bool {
        if let Some((path, work)) = &mut self.coming
            && let Some(done) = work.poll()
        {
            let path = path.clone();
            self.coming = None;
            match done.and_then(|result| result) {
                Ok(cache) => {
                    self.cache = Some((path, cache.clone()));
                    self.start(document, Some(cache));
                }
                Err(why) => {
                    // Even without sound the song can be played through.
                    self.start(document, None);
                    document.fail(format!("Playing in silence: {why}"));
                }
            }
        }
        let came =
            self.pads.as_ref().map(|(_, s)| std::mem::take(&mut *s.lock().unwrap_or_else(PoisonError::into_inner)));
        for when in came.into_iter().flatten() {
            self.tap_ago(document, when.elapsed().as_secs_f64());
        }
        if let Some(event) = self.player.event() {
            document.say(event.0);
        }
        let Some(at) = self.player.position() else { return false };
        document.playhead = SongTime::saturating(round::nearest(at * 1e6));
        true
    }

    /// Whether pads or keys also count as taps.
    pub const fn has_pads(&self) -> bool {
        self.pads.is_some()
    }

    /// Starts or stops taking taps from a MIDI port.
    pub fn set_pads(&mut self, document: &mut Document, ports: &mut dyn Ports, wanted: &str, wake: Waker) {
        if self.pads.take().is_some() {
            return;
        }
        let struck = PadTimes::default();
        let came = struck.clone();
        let heard = move |bytes: &[u8]| {
            // Only the start of a note counts as a tap.
            if matches!(MidiInput::read(bytes), MidiInput::NoteOn { .. }) {
                came.lock().unwrap_or_else(PoisonError::into_inner).push(Instant::now());
                wake();
            }
        };
        let name = ports.inputs().and_then(|names| {
            let found = names.iter().find(|n| *n == wanted).or(names.first()).cloned();
            found.ok_or_else(|| "no MIDI port to listen to is there; plug pads or keys in".to_owned())
        });
        match name.and_then(|name| ports.listen(&name, Box::new(heard)).map(|input| (name, input))) {
            Ok((name, input)) => {
                self.pads = Some((input, struck));
                document.say(format!("Taps are taken from \"{name}\" too"));
            }
            Err(why) => document.fail(why),
        }
    }

    /// Adds a tap at the song time heard now.
    pub fn tap(&mut self, document: &mut Document) {
        self.tap_ago(document, 0.0);
    }

    /// Adds a tap made this many seconds ago.
    fn tap_ago(&mut self, document: &mut Document, ago: f64) {
        let speed = if self.half { 0.5 } else { 1.0 };
        let Some(at) = self.player.position().map(|at| at - ago * speed) else {
            return document.say("Tap while the song plays: it begins with the space bar");
        };
        self.taps.tap(at);
        let count = self.taps.len();
        document.say(format!("{count} tap{}", if count == 1 { "" } else { "s" }));
    }

    /// The state of the sound, in words for the board.
    pub const fn words(&self) -> &'static str {
        if self.player.is_heard() {
            "Sound: the guide is heard"
        } else if self.player.is_playing() {
            "Sound: SILENT, no device or no guide"
        } else {
            "Sound: nothing plays"
        }
    }
}
