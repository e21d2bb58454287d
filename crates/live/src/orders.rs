//! Orders that must never be lost travel as state, not in a queue that can be full: stop-all, stop, letting go. And the other way:
//! where the run is, as the engine last said it.

use crate::units::{MachineTime, ReleaseIndex};
use letfall_core::time::SongTime;
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU64, Ordering, fence};

/// Which press of a hand a hold belongs to. Every new press has a higher number, so that one press never arms two releases, and a
/// hold that was given before its hand let go does nothing afterwards.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Grip(pub u64);

/// What the threads of a run share without waiting for each other.
#[derive(Debug)]
pub struct Orders {
    /// How often stop-all was ordered.
    stop_all: AtomicU64,
    /// How often a stop was ordered.
    stop: AtomicU64,
    /// For each release, the highest grip that has let go.
    let_go: Box<[AtomicU64]>,
    /// The sending thread has ended, whether it was told to or it broke.
    ended: AtomicBool,
    place: PublishedPlace,
}

impl Orders {
    /// For a run with so many releases: nothing ordered yet.
    pub fn new(releases: usize) -> Orders {
        Orders {
            stop_all: AtomicU64::new(0),
            stop: AtomicU64::new(0),
            let_go: (0..releases).map(|_| AtomicU64::new(0)).collect(),
            ended: AtomicBool::new(false),
            place: PublishedPlace::default(),
        }
    }

    /// Orders stop-all: whatever was handed over before is not sent any more.
    pub fn order_stop_all(&self) {
        self.stop_all.fetch_add(1, Ordering::AcqRel);
    }

    /// Orders a stop.
    pub fn order_stop(&self) {
        self.stop.fetch_add(1, Ordering::AcqRel);
    }

    /// How often stop-all was ordered so far.
    pub fn stops_all(&self) -> u64 {
        self.stop_all.load(Ordering::Acquire)
    }

    /// How often a stop was ordered so far.
    pub fn stops(&self) -> u64 {
        self.stop.load(Ordering::Acquire)
    }

    /// Grows with every stop and stop-all: a command that was given under an older number is out of date.
    pub fn generation(&self) -> u64 {
        self.stops_all().wrapping_add(self.stops())
    }

    /// A hand let go of a release, or was never on it. All grips up to this one are over.
    pub fn let_go(&self, release: ReleaseIndex, grip: Grip) {
        if let Some(of) = self.let_go.get(release.index()) {
            of.fetch_max(grip.0, Ordering::AcqRel);
        }
    }

    /// Every hand let go.
    pub fn let_go_all(&self, grip: Grip) {
        for of in &self.let_go {
            of.fetch_max(grip.0, Ordering::AcqRel);
        }
    }

    /// Whether a grip of a release has not let go.
    pub fn is_held(&self, release: ReleaseIndex, grip: Grip) -> bool {
        crate::planted!(LetGoUnheard)
            || self.let_go.get(release.index()).is_some_and(|of| grip.0 > of.load(Ordering::Acquire))
    }

    /// The sending thread has ended.
    pub fn end(&self) {
        self.ended.store(true, Ordering::Release);
    }

    /// Whether the sending thread has ended: then nothing is sent any more, whatever is commanded.
    pub fn has_ended(&self) -> bool {
        self.ended.load(Ordering::Acquire)
    }

    /// Says where the run is. The sending thread alone calls this.
    pub fn publish(&self, place: Place) {
        self.place.write(place);
    }

    /// Where the run is.
    pub fn place(&self) -> Place {
        self.place.read()
    }
}

/// Where a run is: a song time, the machine's time at which it was there, and whether it goes on from there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Place {
    /// Where.
    pub song: SongTime,
    /// When it was there.
    pub at: MachineTime,
    /// Whether it goes on.
    pub runs: bool,
}

impl Place {
    /// The song time at a time of the machine's clock. A run that stands is where it stands.
    pub fn song_at(self, when: MachineTime) -> SongTime {
        if self.runs { self.song + (when - self.at).to_song() } else { self.song }
    }
}

/// A place that one thread writes and others read, neither waiting for the other: a reader that meets a half-written place reads
/// again. The count is odd while it is being written.
#[derive(Debug, Default)]
struct PublishedPlace {
    count: AtomicU64,
    song: AtomicI64,
    at: AtomicI64,
    runs: AtomicBool,
}

impl PublishedPlace {
    fn write(&self, place: Place) {
        let count = self.count.load(Ordering::Relaxed);
        self.count.store(count.wrapping_add(1), Ordering::Relaxed);
        fence(Ordering::Release);
        self.song.store(place.song.micros(), Ordering::Relaxed);
        self.at.store(place.at.micros(), Ordering::Relaxed);
        self.runs.store(place.runs, Ordering::Relaxed);
        self.count.store(count.wrapping_add(2), Ordering::Release);
    }

    fn read(&self) -> Place {
        loop {
            let before = self.count.load(Ordering::Acquire);
            let place = Place {
                song: SongTime::saturating(self.song.load(Ordering::Relaxed)),
                at: MachineTime::from_micros(self.at.load(Ordering::Relaxed)),
                runs: self.runs.load(Ordering::Relaxed),
            };
            fence(Ordering::Acquire);
            if before.is_multiple_of(2) && self.count.load(Ordering::Relaxed) == before {
                return place;
            }
            std::hint::spin_loop();
        }
    }
}
