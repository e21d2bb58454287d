//! The key that arms, as far as a keyboard tells. A keyboard that is unplugged reports no key-up, but its keys stop repeating.

use egui::{Event, Key};

/// The key that is held to arm.
pub const ARM: Key = Key::A;

/// The shortest silence, in seconds, after which a key that was repeating counts as let go. Our own figure.
const SILENT: f64 = 1.0;
/// A key also counts as let go only after this many times the longest interval seen between two repeats. Our own figure.
const INTERVALS: f64 = 3.0;

/// Whether the key is held.
#[derive(Debug, Default)]
pub struct ArmKey {
    was_down: bool,
    /// The last repeat, in seconds, and the longest interval between two of them.
    repeated: Option<(f64, f64)>,
    /// It fell silent, so it must be lifted before it counts again.
    silent: bool,
}

/// What the key says in a frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Held {
    /// It is up, or no longer counts.
    No,
    /// It is held.
    Yes,
    /// It has just fallen silent while it was held.
    FellSilent,
}

impl ArmKey {
    /// Looks at a frame: whether the key is down as the system reports it, what came in since the last frame, and the time in
    /// seconds. Where a system does not repeat keys, the key counts for as long as it is reported to be down.
    pub fn look(&mut self, is_down: bool, events: &[Event], now: f64) -> Held {
        if !is_down {
            *self = ArmKey::default();
            return Held::No;
        }
        for event in events {
            let Event::Key { key, pressed: true, .. } = event else { continue };
            if *key != ARM {
                // A keyboard repeats only the key that was pressed last. From now on nothing is known of ours.
                self.repeated = None;
            } else if self.was_down {
                let longest = self.repeated.map_or(0.0, |(last, longest)| longest.max(now - last));
                self.repeated = Some((now, longest));
            }
        }
        self.was_down = true;
        // The first repeat says nothing of the interval between repeats.
        let silence = self.repeated.filter(|(_, longest)| *longest > 0.0).map(|(last, longest)| (now - last, longest));
        let is_silent = silence.is_some_and(|(silence, longest)| silence > SILENT.max(INTERVALS * longest));
        match (self.silent, is_silent) {
            (true, _) => Held::No,
            (false, true) => {
                self.silent = true;
                Held::FellSilent
            }
            (false, false) => Held::Yes,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn press(key: Key) -> Vec<Event> {
        vec![Event::Key { key, physical_key: None, pressed: true, repeat: false, modifiers: egui::Modifiers::NONE }]
    }

    /// Presses the key, and repeats it every `interval` seconds from half a second to two seconds.
    fn repeating(interval: f64) -> ArmKey {
        let mut key = ArmKey::default();
        assert_eq!(key.look(true, &press(ARM), 0.0), Held::Yes);
        let mut now = 0.5;
        while now <= 2.0 {
            assert_eq!(key.look(true, &press(ARM), now), Held::Yes, "{now}");
            now += interval;
        }
        key
    }

    #[test]
    fn a_key_that_stops_repeating_is_let_go_and_must_be_lifted() {
        let mut key = repeating(0.05);
        assert_eq!(key.look(true, &[], 2.9), Held::Yes);
        assert_eq!(key.look(true, &[], 3.1), Held::FellSilent);
        assert_eq!(key.look(true, &[], 3.2), Held::No);
        // It comes back, for example because the keyboard was plugged in again. Nobody has pressed it anew.
        assert_eq!(key.look(true, &press(ARM), 3.3), Held::No);
        assert_eq!(key.look(false, &[], 3.4), Held::No);
        assert_eq!(key.look(true, &press(ARM), 3.5), Held::Yes);
        assert_eq!(key.look(true, &[], 60.0), Held::Yes, "it has not repeated since");
    }

    #[test]
    fn slow_repeats_have_time() {
        let mut key = repeating(0.5);
        assert_eq!(key.look(true, &[], 3.4), Held::Yes);
        assert_eq!(key.look(true, &[], 3.6), Held::FellSilent);
    }

    #[test]
    fn a_key_that_never_repeats_is_held_while_it_is_down() {
        let mut key = ArmKey::default();
        assert_eq!(key.look(true, &press(ARM), 0.0), Held::Yes);
        assert_eq!(key.look(true, &[], 100.0), Held::Yes);
        // One repeat tells nothing of the interval.
        assert_eq!(key.look(true, &press(ARM), 100.5), Held::Yes);
        assert_eq!(key.look(true, &[], 200.0), Held::Yes);
    }

    #[test]
    fn another_key_takes_over_the_repeats() {
        let mut key = repeating(0.05);
        assert_eq!(key.look(true, &press(Key::B), 2.1), Held::Yes);
        assert_eq!(key.look(true, &[], 60.0), Held::Yes);
    }

    /// A screen that stalls gets all repeats at once.
    #[test]
    fn a_late_frame_is_no_silence() {
        let mut key = repeating(0.05);
        assert_eq!(key.look(true, &press(ARM), 9.0), Held::Yes);
        assert_eq!(key.look(true, &[], 9.1), Held::Yes);
    }
}
