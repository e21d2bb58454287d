//! Play, stop, and where the playhead is.

use super::clock::DeviceClock;
use super::device::{Device, Running};
use super::renderer::{Click, Mark, Part, Renderer, Sound, place};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::Duration;

/// Size of the ring buffer in samples: a fifth of a second at 48 kHz, so that a busy machine does not stutter.
const RING: usize = 9600;
/// Samples rendered at a time.
const PIECE: usize = 480;

/// What to play.
pub struct Request {
    /// The recording; `None` plays in silence.
    pub sound: Option<Box<dyn Sound>>,
    /// Where to begin, in seconds of song time; a value below 0 is before the recording.
    pub from: f64,
    /// Where it stops by itself, in seconds of song time.
    pub until: f64,
    /// Playback speed as a share of the song's own.
    pub speed: f64,
    /// A part to loop.
    pub looped: Option<Part>,
    /// Clicks in order of time.
    pub clicks: Vec<Click>,
}

/// Something the user should know.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlayerEvent(pub String);

enum Playing {
    /// Timed by a device's clock.
    Heard {
        running: Box<dyn Running>,
        clock: DeviceClock,
        reports: rtrb::Consumer<(u64, f64)>,
        marks: Arc<Mutex<Vec<Mark>>>,
        stop: Arc<AtomicBool>,
    },
    /// Timed only by the system's clock.
    Silent { began: f64 },
}

struct Now {
    playing: Playing,
    from: f64,
    until: f64,
    speed: f64,
    looped: Option<Part>,
}

/// Plays one thing at a time.
pub struct Player {
    device: Box<dyn Device>,
    now: Option<Now>,
    event: Option<PlayerEvent>,
}

impl Player {
    /// A player that uses this device.
    pub fn new(device: Box<dyn Device>) -> Player {
        Player { device, now: None, event: None }
    }

    /// Whether something is playing.
    pub const fn is_playing(&self) -> bool {
        self.now.is_some()
    }

    /// Whether a device is playing it, timed by its own clock.
    pub const fn is_heard(&self) -> bool {
        matches!(self.now, Some(Now { playing: Playing::Heard { .. }, .. }))
    }

    /// Something the user should know, reported once.
    pub fn event(&mut self) -> Option<PlayerEvent> {
        self.event.take()
    }

    /// Starts playing, after stopping anything that was playing. Without a device it plays in silence and reports that.
    pub fn play(&mut self, request: Request) {
        self.stop();
        let Request { sound, from, until, speed, looped, clicks } = request;
        let silent = Playing::Silent { began: self.device.now() };
        let playing = match sound {
            None => silent,
            Some(sound) => match self.heard(sound, from, speed, looped, clicks) {
                Ok(playing) => playing,
                Err(why) => {
                    self.event = Some(PlayerEvent(format!(
                        "Playing in silence: {why}. The playhead follows the computer's clock."
                    )));
                    Playing::Silent { began: self.device.now() }
                }
            },
        };
        self.now = Some(Now { playing, from, until, speed, looped: looped.filter(|l| l.to - l.from >= 0.1) });
    }

    fn heard(
        &mut self,
        sound: Box<dyn Sound>,
        from: f64,
        speed: f64,
        looped: Option<Part>,
        clicks: Vec<Click>,
    ) -> Result<Playing, String> {
        let rate = self.device.sample_rate()?;
        let mut renderer = Renderer::new(sound, rate, from, speed, looped, clicks);
        let (mut to, mut samples) = rtrb::RingBuffer::<f32>::new(RING);
        let (mut report, reports) = rtrb::RingBuffer::<(u64, f64)>::new(256);
        let marks = Arc::new(Mutex::new(renderer.take_marks()));
        let stop = Arc::new(AtomicBool::new(false));
        let mut make = {
            let (marks, stop) = (marks.clone(), stop.clone());
            let mut piece = [0.0f32; PIECE];
            move || {
                while to.slots() >= PIECE && !stop.load(Ordering::Acquire) {
                    renderer.fill(&mut piece);
                    marks.lock().unwrap_or_else(PoisonError::into_inner).extend(renderer.take_marks());
                    for sample in piece {
                        if to.push(sample).is_err() {
                            break;
                        }
                    }
                }
                !stop.load(Ordering::Acquire)
            }
        };
        make();
        let mut given = 0u64;
        let fill = move |out: &mut [f32], heard_at: f64| {
            // Use only the samples that are there: a gap becomes silence, and the song waits.
            let have = samples.slots().min(out.len());
            if have > 0 && report.push((given, heard_at)).is_err() {
                // The reports are not being read. The next one will do.
            }
            for sample in &mut out[..have] {
                *sample = samples.pop().unwrap_or(0.0);
            }
            out[have..].fill(0.0);
            given += have as u64;
        };
        let running = self.device.start(Box::new(fill))?;
        let feeder = move || {
            while make() {
                thread::sleep(Duration::from_millis(10));
            }
        };
        thread::Builder::new()
            .name("guide".into())
            .spawn(feeder)
            .map_err(|e| format!("the system has no thread for it ({e})"))?;
        Ok(Playing::Heard { running, clock: DeviceClock::new(rate), reports, marks, stop })
    }

    /// Stops.
    pub fn stop(&mut self) {
        if let Some(Now { playing: Playing::Heard { stop, .. }, .. }) = self.now.take() {
            stop.store(true, Ordering::Release);
        }
    }

    /// The song time that is heard now, in seconds; `None` when nothing plays. Call it every frame.
    pub fn position(&mut self) -> Option<f64> {
        let micros = self.device.now();
        let now = self.now.as_mut()?;
        let at = match &mut now.playing {
            Playing::Silent { began } => {
                let gone = (micros - *began) / 1e6 * now.speed;
                match now.looped {
                    Some(l) if now.from + gone >= l.to => l.from + (now.from + gone - l.to).rem_euclid(l.to - l.from),
                    _ => now.from + gone,
                }
            }
            Playing::Heard { clock, reports, marks, running, .. } => {
                while let Ok((sample, heard)) = reports.pop() {
                    clock.event(sample as f64, heard);
                }
                if let Some(why) = running.failure() {
                    self.event = Some(PlayerEvent(format!("The sound device stopped: {why}")));
                    self.stop();
                    return None;
                }
                let marks = marks.lock().unwrap_or_else(PoisonError::into_inner);
                clock.sample_at(micros).and_then(|sample| place(&marks, sample)).unwrap_or(now.from)
            }
        };
        if now.looped.is_none() && at >= now.until {
            let until = now.until;
            self.stop();
            return Some(until);
        }
        Some(at)
    }
}

impl Drop for Player {
    fn drop(&mut self) {
        self.stop();
    }
}
