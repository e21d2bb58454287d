//! Orders that must never be lost: stop-all, stop and letting go. They are shared as state, because a queue can be full. In the
//! other direction, the engine publishes where the run is.

use crate::bend::Rate;
use crate::units::{MachineTime, ReleaseIndex};
use letfall_core::time::{SongSpan, SongTime};
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU8, AtomicU64, Ordering, fence};

/// Which press a hold belongs to. Every new press has a higher number. So one press never arms two releases, and a hold that
/// arrives after its press has ended does nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Grip(pub u64);

/// State that the threads of a run share without locking.
#[derive(Debug)]
pub struct Orders {
    /// How many times stop-all was ordered.
    stop_all: AtomicU64,
    /// How many times a stop was ordered.
    stop: AtomicU64,
    /// For each release, the highest grip that has let go.
    let_go: Box<[AtomicU64]>,
    /// The sending thread has ended, either as told or by a panic.
    ended: AtomicBool,
    place: PublishedPlace,
}

impl Orders {
    /// For a run with this many releases, with nothing ordered yet.
    pub fn new(releases: usize) -> Orders {
        Orders {
            stop_all: AtomicU64::new(0),
            stop: AtomicU64::new(0),
            let_go: (0..releases).map(|_| AtomicU64::new(0)).collect(),
            ended: AtomicBool::new(false),
            place: PublishedPlace::default(),
        }
    }

    /// Orders stop-all. Messages that were handed over before it are no longer sent.
    pub fn order_stop_all(&self) {
        self.stop_all.fetch_add(1, Ordering::AcqRel);
    }

    /// Orders a stop.
    pub fn order_stop(&self) {
        self.stop.fetch_add(1, Ordering::AcqRel);
    }

    /// How many times stop-all was ordered so far.
    pub fn stops_all(&self) -> u64 {
        self.stop_all.load(Ordering::Acquire)
    }

    /// How many times a stop was ordered so far.
    pub fn stops(&self) -> u64 {
        self.stop.load(Ordering::Acquire)
    }

    /// Grows with every stop and stop-all. A command that was given under an older number is out of date.
    pub fn generation(&self) -> u64 {
        self.stops_all().wrapping_add(self.stops())
    }

    /// A person let go of a release, or never held it. All grips up to this one are over.
    pub fn let_go(&self, release: ReleaseIndex, grip: Grip) {
        if let Some(of) = self.let_go.get(release.index()) {
            of.fetch_max(grip.0, Ordering::AcqRel);
        }
    }

    /// All releases were let go. All grips up to this one are over.
    pub fn let_go_all(&self, grip: Grip) {
        for of in &self.let_go {
            of.fetch_max(grip.0, Ordering::AcqRel);
        }
    }

    /// Whether a grip still holds a release.
    pub fn is_held(&self, release: ReleaseIndex, grip: Grip) -> bool {
        crate::planted!(LetGoUnheard)
            || self.let_go.get(release.index()).is_some_and(|of| grip.0 > of.load(Ordering::Acquire))
    }

    /// The sending thread has ended.
    pub fn end(&self) {
        self.ended.store(true, Ordering::Release);
    }

    /// Whether the sending thread has ended. After that no command has any effect.
    pub fn has_ended(&self) -> bool {
        self.ended.load(Ordering::Acquire)
    }

    /// Publishes where the run is. Only the sending thread may call this.
    pub fn publish(&self, place: Place) {
        self.place.write(place);
    }

    /// Where the run is.
    pub fn place(&self) -> Place {
        self.place.read()
    }
}

/// Where a run is: a song time, when it was there by the machine's clock, and how it moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Place {
    /// Where.
    pub song: SongTime,
    /// When it was there.
    pub at: MachineTime,
    /// How it moves.
    pub moves: Moves,
    /// How fast it goes. It stands while the run waits, or goes by hand.
    pub rate: Rate,
}

/// How a run moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
#[repr(u8)]
pub enum Moves {
    /// It was stopped.
    #[default]
    Stopped,
    /// By the clock.
    Runs,
    /// It stands at a bar line until somebody goes on.
    Waits,
    /// A person sends each group of cues.
    ByHand,
}

impl Moves {
    const ALL: [Moves; 4] = [Moves::Stopped, Moves::Runs, Moves::Waits, Moves::ByHand];
}

impl Default for Place {
    fn default() -> Place {
        Place { song: SongTime::ZERO, at: MachineTime::default(), moves: Moves::Stopped, rate: Rate::STANDS }
    }
}

impl Place {
    /// The song time at a time of the machine's clock. A stopped run stays where it is.
    pub fn song_at(self, when: MachineTime) -> SongTime {
        self.song + SongSpan::from_micros(self.rate.song((when - self.at).micros()))
    }

    /// Whether a run is going on: by the clock, waiting, or by hand.
    pub fn runs(self) -> bool {
        self.moves != Moves::Stopped
    }
}

/// A place that one thread writes and others read without locks (a seqlock). The count is odd during a write, and a reader that
/// sees a half-written place reads again.
#[derive(Debug, Default)]
struct PublishedPlace {
    count: AtomicU64,
    song: AtomicI64,
    at: AtomicI64,
    moves: AtomicU8,
    rate: AtomicI64,
}

impl PublishedPlace {
    fn write(&self, place: Place) {
        let count = self.count.load(Ordering::Relaxed);
        self.count.store(count.wrapping_add(1), Ordering::Relaxed);
        fence(Ordering::Release);
        self.song.store(place.song.micros(), Ordering::Relaxed);
        self.at.store(place.at.micros(), Ordering::Relaxed);
        self.moves.store(place.moves as u8, Ordering::Relaxed);
        self.rate.store(place.rate.micros(), Ordering::Relaxed);
        self.count.store(count.wrapping_add(2), Ordering::Release);
    }

    fn read(&self) -> Place {
        loop {
            let before = self.count.load(Ordering::Acquire);
            let place = Place {
                song: SongTime::saturating(self.song.load(Ordering::Relaxed)),
                at: MachineTime::from_micros(self.at.load(Ordering::Relaxed)),
                moves: Moves::ALL.get(usize::from(self.moves.load(Ordering::Relaxed))).copied().unwrap_or_default(),
                rate: Rate::from_raw(self.rate.load(Ordering::Relaxed)),
            };
            fence(Ordering::Acquire);
            if before.is_multiple_of(2) && self.count.load(Ordering::Relaxed) == before {
                return place;
            }
            std::hint::spin_loop();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(song: i64, at: i64, runs: bool) -> Place {
        let (moves, rate) = if runs { (Moves::Runs, Rate::PLANNED) } else { (Moves::Stopped, Rate::STANDS) };
        Place { song: SongTime::saturating(song), at: MachineTime::from_micros(at), moves, rate }
    }

    #[test]
    fn a_running_song_goes_on_and_a_stopped_one_stays() {
        let later = MachineTime::from_micros(7_500);
        assert_eq!(place(1_000, 5_000, true).song_at(later).micros(), 3_500);
        assert_eq!(place(1_000, 5_000, true).song_at(MachineTime::from_micros(4_000)).micros(), 0);
        assert_eq!(place(1_000, 5_000, false).song_at(later).micros(), 1_000);
    }

    #[test]
    fn what_was_published_last_is_read() {
        let orders = Orders::new(2);
        assert_eq!(orders.place(), Place::default());
        for wanted in [place(3, 4, true), place(-5, 6, false)] {
            orders.publish(wanted);
            assert_eq!(orders.place(), wanted);
        }
    }

    /// A reader beside the writing thread never sees one half of one place and one half of another.
    #[test]
    fn a_place_is_read_whole() {
        let orders = std::sync::Arc::new(Orders::new(1));
        let writer = orders.clone();
        let end = std::sync::Arc::new(AtomicBool::new(false));
        let ended = end.clone();
        let thread = std::thread::spawn(move || {
            let mut n = 0;
            while !ended.load(Ordering::Relaxed) {
                n += 1;
                writer.publish(place(n, -n, n % 2 == 0));
            }
        });
        for _ in 0..200_000 {
            let seen = orders.place();
            assert_eq!(
                (seen.song.micros(), seen.runs()),
                (-seen.at.micros(), seen.song.micros() % 2 == 0 && seen.song.micros() != 0)
            );
        }
        end.store(true, Ordering::Relaxed);
        thread.join().expect("the writer");
    }

    /// While a place is being written nobody reads it: a reader waits until it is whole.
    #[test]
    fn a_place_that_is_being_written_is_waited_for() {
        let published = std::sync::Arc::new(PublishedPlace::default());
        published.write(place(3, 4, true));
        let begun = published.count.load(Ordering::Acquire);
        published.count.store(begun + 1, Ordering::Release);
        let (reader, read) = (published.clone(), std::sync::Arc::new(AtomicBool::new(false)));
        let has_read = read.clone();
        let thread = std::thread::spawn(move || {
            let place = reader.read();
            has_read.store(true, Ordering::Release);
            place
        });
        std::thread::sleep(std::time::Duration::from_millis(50));
        assert!(!read.load(Ordering::Acquire), "half a place was read");
        published.count.store(begun + 2, Ordering::Release);
        assert_eq!(thread.join().expect("the reader"), place(3, 4, true));
    }

    /// A hold counts until it, or a later one, is let go. The number of a grip tells which came first.
    #[test]
    fn letting_go_ends_all_grips_up_to_it() {
        let orders = Orders::new(2);
        let releases = [ReleaseIndex::at(0), ReleaseIndex::at(1)];
        let held = |grip: u64| releases.map(|release| orders.is_held(release, Grip(grip)));
        assert_eq!(held(1), [true, true]);
        orders.let_go(releases[0], Grip(2));
        assert_eq!((held(2), held(3)), ([false, true], [true, true]));
        orders.let_go_all(Grip(4));
        assert_eq!((held(4), held(5)), ([false, false], [true, true]));
        orders.let_go(releases[1], Grip(3));
        assert_eq!(held(4), [false, false], "an older hand that lets go opens nothing again");
    }
}
