//! Which messages a device may mistake for the one that fires a release.
//!
//! Nobody can know how every box and desk reacts to a message. So the question is turned round: on a port that leads to a
//! release, only messages that are provably different get through. Anything else is in doubt, and what is in doubt is refused.

use super::show_control::{CueName, ShowControl, command};
use super::{is_channel_message, is_one_message, split_messages};
use crate::show::{Channel, Receiver, ReleaseKind};
use std::sync::Arc;

/// Why a message might let a fabric go, or keep its release from working.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Doubt {
    /// It is, or may be read as, the release's own message.
    Same,
    /// It would be the release's message if it were on the release's channel, and nobody has confirmed that the box answers
    /// only that channel.
    OtherChannel,
    /// A channel-mode message, which a device may answer by switching contacts or by listening on all channels.
    ChannelMode,
    /// A bank select on the channel of a release fired by program change: the release's message would then mean another
    /// program.
    Bank,
    /// A show-control command to the release's device that is not provably about another cue.
    Command,
    /// A message to the release's device of another kind than the release's own.
    SameDevice,
    /// System exclusive that the release's device may understand.
    Exclusive,
    /// Timecode, clock or song position, which start cue lists in desks and boxes.
    Sync,
    /// Not one whole MIDI message, or a system reset.
    Broken,
}

impl Doubt {
    /// In words that follow "it might fire the release, because".
    pub const fn words(self) -> &'static str {
        match self {
            Doubt::Same => "a device can take it for the release's own message",
            Doubt::OtherChannel => {
                "a box that answers every channel takes it for the release's own message, and nobody has confirmed that this one answers its channel only"
            }
            Doubt::ChannelMode => "a channel-mode message can switch contacts or make a box answer every channel",
            Doubt::Bank => "a bank select on the release's channel changes what the release's program number means",
            Doubt::Command => "it is a show-control command to the release's device and not provably about another cue",
            Doubt::SameDevice => "the release's own device listens to it",
            Doubt::Exclusive => "the release's device may understand this system-exclusive message",
            Doubt::Sync => {
                "timecode, clock and transport messages can start cue lists, and nobody has confirmed that this port's devices ignore them"
            }
            Doubt::Broken => "it is not one whole MIDI message that Letfall knows",
        }
    }
}

/// A release's message, and what is known about the device that receives it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReleaseTrigger {
    /// The message that fires: the last of its run. Bank selects before it only choose the bank.
    message: Arc<[u8]>,
    /// The device's show-control number and format, if it has them.
    device: Option<(u8, u8)>,
    /// The device's MIDI channel, 0 to 15, if it has one.
    channel: Option<u8>,
    /// Somebody has tested that it answers only this channel.
    own_channel_only: bool,
    /// Whether it is certain that applying power lets go. If not, or not known, switching off counts as letting go too.
    energise: bool,
}

/// Controllers that together set one parameter: data entry, its fine part, increment, decrement and the four parameter numbers
/// (MIDI 1.0, table of controllers).
const PARAMETER: [u8; 8] = [6, 38, 96, 97, 98, 99, 100, 101];

/// Show-control commands that only switch something off.
const SWITCHES_OFF: [u8; 4] = [command::STOP, command::ALL_OFF, command::RESET, command::GO_OFF];

impl ReleaseTrigger {
    /// The trigger of a release that is fired by these bytes at a receiver.
    pub fn new(on: &[u8], receiver: &Receiver, kind: ReleaseKind) -> ReleaseTrigger {
        ReleaseTrigger {
            message: split_messages(on).last().unwrap_or(on).into(),
            device: receiver.device.zip(receiver.format).map(|(device, format)| (device.get(), format.get())),
            channel: receiver.channel.map(Channel::nibble),
            own_channel_only: !receiver.channel_confirmed_by.trim().is_empty(),
            energise: kind == ReleaseKind::Energise,
        }
    }

    /// Whether active sensing may be sent to the device. When it stops, a device that honours it switches everything off (MIDI 1.0):
    /// that opens a contact which was left closed, and lets go of what power holds.
    pub const fn may_be_sensed(&self) -> bool {
        self.energise
    }

    /// Why one message of a run might fire the release; `None` if all are provably other messages. `sync_confirmed` means that
    /// somebody has tested that the port's devices ignore timecode and clock.
    pub fn doubt_in_row(&self, row: &[u8], sync_confirmed: bool) -> Option<Doubt> {
        if row.first().is_none_or(|status| *status < 0x80) {
            return Some(Doubt::Broken);
        }
        split_messages(row).find_map(|message| self.doubt(message, sync_confirmed))
    }

    /// Why one message might fire the release; `None` if it is provably another message.
    pub fn doubt(&self, message: &[u8], sync_confirmed: bool) -> Option<Doubt> {
        if !is_one_message(message) {
            return Some(Doubt::Broken);
        }
        if message == &*self.message {
            return Some(Doubt::Same);
        }
        match message {
            [0xf0, ..] => self.exclusive(message, sync_confirmed),
            // Active sensing only says that the connection is alive.
            [0xfe] => None,
            [0xff] => Some(Doubt::Broken),
            [status, ..] if *status >= 0xf0 => (!sync_confirmed).then_some(Doubt::Sync),
            _ => self.on_a_channel(message),
        }
    }

    fn on_a_channel(&self, message: &[u8]) -> Option<Doubt> {
        let status = *message.first()?;
        let channel = status & 15;
        if !is_channel_message(&self.message) {
            // The release is fired by another kind of message. Even so, its device must get none of these on its own channel.
            return (self.channel == Some(channel)).then_some(Doubt::SameDevice);
        }
        let own = self.message.first().is_some_and(|fires| fires & 15 == channel);
        if !own && self.own_channel_only {
            return None;
        }
        match (self.same_words(message)?, own) {
            (Doubt::Same, false) => Some(Doubt::OtherChannel),
            (doubt, _) => Some(doubt),
        }
    }

    /// The doubt about a channel message, ignoring its channel.
    fn same_words(&self, message: &[u8]) -> Option<Doubt> {
        let (kind, data) = (message.first()? & 0xf0, message.get(1)?);
        if kind == 0xb0 && *data >= 120 {
            return self.mode_message(*data).then_some(Doubt::ChannelMode);
        }
        match *self.message {
            // The same key in any note message: on, off or pressure, at any velocity.
            [fires, key, _] if fires & 0xf0 == 0x90 => {
                (matches!(kind, 0x80..=0xa0) && *data == key).then_some(Doubt::Same)
            }
            [fires, controller, _] if fires & 0xf0 == 0xb0 => {
                (kind == 0xb0 && one_controller(controller, *data)).then_some(Doubt::Same)
            }
            [fires, program] if fires & 0xf0 == 0xc0 => match kind {
                // We do not know whether a device uses banks, so the number alone decides.
                0xc0 => (*data == program).then_some(Doubt::Same),
                0xb0 => matches!(data, 0 | 32).then_some(Doubt::Bank),
                _ => None,
            },
            _ => Some(Doubt::Same),
        }
    }

    /// Whether a channel-mode message is in doubt. All sound off and all notes off only switch off: they are safe if applying
    /// power is sure to let go and no controller fires the release. Local control is always safe. Resetting controllers and the
    /// omni, mono and poly modes, which change the channels a device answers, are always in doubt.
    fn mode_message(&self, controller: u8) -> bool {
        let switches_off = matches!(controller, 120 | 123);
        let local_control = controller == 122;
        let by_controller = self.message.first().is_some_and(|fires| fires & 0xf0 == 0xb0);
        !(local_control || self.energise && switches_off && !by_controller)
    }

    fn exclusive(&self, message: &[u8], sync_confirmed: bool) -> Option<Doubt> {
        if let Some(said) = ShowControl::read(message) {
            return self.show_control(said);
        }
        match message {
            // Timecode, its cueing messages and machine control (universal real time 01, 05 and 06).
            [0xf0, 0x7f, _, 0x01 | 0x05 | 0x06, ..] => (!sync_confirmed).then_some(Doubt::Sync),
            // Any device on the port may answer universal messages.
            [0xf0, 0x7e | 0x7f, ..] => Some(Doubt::Exclusive),
            // Each manufacturer defines the format of its own messages.
            _ => (maker(message) == maker(&self.message)).then_some(Doubt::Exclusive),
        }
    }

    fn show_control(&self, said: ShowControl<'_>) -> Option<Doubt> {
        let Some(fires) = ShowControl::read(&self.message) else {
            let reached = self.device.is_some_and(|(device, format)| said.may_reach(device, format));
            return reached.then_some(Doubt::SameDevice);
        };
        if !said.may_reach(fires.device, fires.format) {
            return None;
        }
        (!self.is_another_command(fires, said)).then_some(Doubt::Command)
    }

    /// Whether a command to the release's device is provably not the one that fires the release.
    fn is_another_command(&self, fires: ShowControl<'_>, said: ShowControl<'_>) -> bool {
        match said.command {
            // If applying power lets go, a command that only switches off cannot.
            switches_off
                if self.energise && SWITCHES_OFF.contains(&switches_off) && !SWITCHES_OFF.contains(&fires.command) =>
            {
                true
            }
            command::GO | command::STOP | command::RESUME | command::TIMED_GO | command::LOAD | command::GO_OFF => {
                let names_one = |cue: &CueName<'_>| !cue.cue.is_empty();
                match (said.cue().filter(names_one), fires.cue()) {
                    (Some(said), Some(fires)) => names_one(&fires) && !said.may_be(&fires),
                    // A release fired by FIRE or SET is not a cue. If the release's own cue cannot be read, nothing is known.
                    (Some(_), None) => matches!(fires.command, command::FIRE | command::SET),
                    (None, _) => false,
                }
            }
            command::FIRE => fires.command == command::FIRE && fires.data != said.data,
            command::SET => fires.command == command::SET && fires.data.get(..2) != said.data.get(..2),
            _ => false,
        }
    }
}

/// Whether a device may treat two controllers as one: the same controller, the coarse and fine parts of one, or parts of one
/// parameter.
fn one_controller(a: u8, b: u8) -> bool {
    let coarse = |controller: u8| if controller < 64 { controller & 31 } else { controller };
    coarse(a) == coarse(b) || PARAMETER.contains(&a) && PARAMETER.contains(&b)
}

/// The manufacturer's number in a system-exclusive message: one byte, or three if the first is 0 (MIDI 1.0).
fn maker(message: &[u8]) -> Option<&[u8]> {
    match message {
        [0xf0, 0, ..] => message.get(1..4),
        [0xf0, ..] => message.get(1..2),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trigger(on: &[u8], kind: ReleaseKind, facts: &str) -> ReleaseTrigger {
        let text = format!(r#"{{"key":"r","name":"R","port":"p"{facts}}}"#);
        ReleaseTrigger::new(on, &serde_json::from_str(&text).expect("a receiver"), kind)
    }

    /// Checks the trigger's doubt about each message, with sync not confirmed.
    fn expect(trigger: &ReleaseTrigger, cases: &[(&[u8], Option<Doubt>)]) {
        for (message, doubt) in cases {
            assert_eq!(trigger.doubt_in_row(message, false), *doubt, "{message:02X?} to {trigger:02X?}");
        }
    }

    const TRIED: &str = r#","channel":1,"channel_confirmed_by":"the electrician""#;

    #[test]
    fn a_note_on_a_channel_that_was_tried() {
        use Doubt::{ChannelMode, Exclusive, Same, Sync};
        let note = trigger(&[0x90, 60, 127], ReleaseKind::Energise, TRIED);
        expect(
            &note,
            &[
                (&[0x90, 60, 127], Some(Same)),
                (&[0x90, 60, 1], Some(Same)),
                // With velocity 0 it is a note off (MIDI 1.0), which ends the pulse early.
                (&[0x90, 60, 0], Some(Same)),
                (&[0x80, 60, 64], Some(Same)),
                (&[0xa0, 60, 64], Some(Same)),
                (&[0x90, 61, 127], None),
                (&[0x80, 61, 127], None),
                (&[0x91, 60, 127], None),
                (&[0xc0, 60], None),
                (&[0xb0, 60, 127], None),
                (&[0xd0, 60], None),
                (&[0xe0, 60, 0], None),
                // All sound off and all notes off are safe here, because applying power lets go. Omni on would open the box to
                // every channel.
                (&[0xb0, 120, 0], None),
                (&[0xb0, 123, 0], None),
                (&[0xb0, 121, 0], Some(ChannelMode)),
                (&[0xb0, 122, 0], None),
                (&[0xb0, 124, 0], Some(ChannelMode)),
                (&[0xb0, 125, 0], Some(ChannelMode)),
                (&[0xb0, 127, 0], Some(ChannelMode)),
                (&[0xb1, 125, 0], None),
                (&[0xb0, 119, 0], None),
                (&[0xf8], Some(Sync)),
                (&[0xf1, 0], Some(Sync)),
                (&[0xf2, 0, 0], Some(Sync)),
                (&[0xfe], None),
                (&[0xff], Some(Doubt::Broken)),
                (&[0xf0, 0x7f, 0x7f, 1, 1, 0, 0, 0, 0, 0xf7], Some(Sync)),
                (&[0xf0, 0x7f, 0x7f, 6, 2, 0xf7], Some(Sync)),
                (&[0xf0, 0x7f, 0x7f, 4, 1, 0, 0, 0xf7], Some(Exclusive)),
                (&[0xf0, 0x7e, 0x7f, 9, 1, 0xf7], Some(Exclusive)),
                (&[0xf0, 0x43, 60, 0xf7], None),
                (&[0xf0, 0x7f, 1, 2, 1, 1, 0x31, 0xf7], None),
                // None of these is exactly one message.
                (&[60, 127], Some(Doubt::Broken)),
                (&[0x90, 61], Some(Doubt::Broken)),
                (&[], Some(Doubt::Broken)),
                (&[0x91, 61, 127, 62, 127], Some(Doubt::Broken)),
                (&[0xf4], Some(Doubt::Broken)),
                // A run is checked to its end.
                (&[0xb0, 7, 1, 0x90, 60, 127], Some(Same)),
            ],
        );
        assert_eq!(note.doubt(&[0xf8], true), None);
        assert_eq!(note.doubt(&[0xf0, 0x7f, 0x7f, 1, 1, 0, 0, 0, 0, 0xf7], true), None);
    }

    #[test]
    fn a_box_that_may_answer_every_channel() {
        let note = trigger(&[0x93, 60, 127], ReleaseKind::Energise, r#","channel":4"#);
        expect(
            &note,
            &[
                (&[0x90, 60, 1], Some(Doubt::OtherChannel)),
                (&[0x90, 61, 1], None),
                (&[0xb5, 125, 0], Some(Doubt::ChannelMode)),
            ],
        );
    }

    /// If power holds the fabric, or while it is not known, switching off counts as letting go.
    #[test]
    fn a_power_held_release() {
        for kind in [ReleaseKind::Deenergise, ReleaseKind::Unknown] {
            let note = trigger(&[0x90, 60, 127], kind, TRIED);
            for controller in [120, 121, 123, 124, 125, 126, 127] {
                assert_eq!(note.doubt(&[0xb0, controller, 0], false), Some(Doubt::ChannelMode), "{controller}");
            }
            assert_eq!(note.doubt(&[0xb1, 123, 0], false), None);
        }
    }

    #[test]
    fn a_controller_in_all_its_values_and_parts() {
        use Doubt::Same;
        let control = |number| trigger(&[0xb0, number, 127], ReleaseKind::Energise, TRIED);
        expect(
            &control(20),
            &[
                (&[0xb0, 20, 0], Some(Same)),
                (&[0xb0, 52, 9], Some(Same)),
                (&[0xb0, 21, 127], None),
                (&[0xb0, 84, 1], None),
                (&[0x90, 20, 127], None),
                (&[0xb0, 123, 0], Some(Doubt::ChannelMode)),
                (&[0xb0, 121, 0], Some(Doubt::ChannelMode)),
            ],
        );
        // Data entry sets whichever parameter was selected before.
        for number in [6, 38, 96, 97, 98, 99, 100, 101] {
            assert_eq!(control(6).doubt(&[0xb0, number, 1], false), Some(Same), "{number}");
        }
        expect(&control(64), &[(&[0xb0, 96, 1], None), (&[0xb0, 65, 1], None), (&[0xb0, 64, 1], Some(Same))]);
    }

    #[test]
    fn a_program_and_its_banks() {
        // As a preset writes it: bank 1 and program 5.
        let row = [0xb0, 0, 1, 0xb0, 32, 0, 0xc0, 5];
        let program = trigger(&row, ReleaseKind::Energise, TRIED);
        expect(
            &program,
            &[
                (&row, Some(Doubt::Bank)),
                (&[0xc0, 5], Some(Doubt::Same)),
                (&[0xc0, 6], None),
                (&[0xb0, 0, 1], Some(Doubt::Bank)),
                (&[0xb0, 32, 1], Some(Doubt::Bank)),
                (&[0xb0, 1, 1], None),
                (&[0xc1, 5], None),
                (&[0xb1, 0, 1], None),
                (&[0x90, 5, 5], None),
            ],
        );
    }

    #[test]
    fn show_control() {
        use Doubt::Command;
        let message = |device: u8, format: u8, code: u8, data: &[u8]| {
            [&[0xf0, 0x7f, device, 2, format, code], data, &[0xf7]].concat()
        };
        let device = r#","device":1,"format":1"#;
        let go = trigger(&message(1, 1, command::GO, b"5\x002"), ReleaseKind::Energise, device);
        let held = trigger(&message(1, 1, command::GO, b"5\x002"), ReleaseKind::Deenergise, device);
        let to = |code: u8, data: &[u8]| go.doubt(&message(1, 1, code, data), false);
        for code in [command::GO, command::RESUME, command::LOAD] {
            for same in [&b"5"[..], b"5.0\x002", b"05\x002\x007", b""] {
                assert_eq!(to(code, same), Some(Command), "{code} {same:?}");
            }
            for other in [&b"6"[..], b"5\x003", b"5.5"] {
                assert_eq!(to(code, other), None, "{code} {other:?}");
            }
        }
        let time = [0x60, 0, 5, 0, 0];
        assert_eq!(to(command::TIMED_GO, &[&time[..], b"5"].concat()), Some(Command));
        assert_eq!(to(command::TIMED_GO, &[&time[..], b"6"].concat()), None);
        assert_eq!(to(command::TIMED_GO, &time), Some(Command));
        for code in [command::SET, command::FIRE, 9, 0x10, 0x11, 0x1b, 0x1e, 0x20, 0x7f, 0] {
            assert_eq!(to(code, &[1, 0, 1, 0]), Some(Command), "{code}");
        }
        for code in [command::STOP, command::ALL_OFF, command::RESET, command::GO_OFF] {
            assert_eq!(to(code, b""), None, "{code}");
            assert_eq!(held.doubt(&message(1, 1, code, b""), false), Some(Command), "{code}");
        }
        assert_eq!(held.doubt(&message(1, 1, command::STOP, b"6"), false), None);
        for (device, format) in [(0x7f, 1), (0x70, 1), (1, 0x7f), (1, 2)] {
            assert_eq!(go.doubt(&message(device, format, command::GO, b"5"), false), Some(Command));
        }
        assert_eq!(go.doubt(&message(2, 1, command::GO, b"5"), false), None);
        assert_eq!(go.doubt(&message(1, 0x10, command::GO, b"5"), false), None);
        // Fired by number, and by a control.
        let fire = trigger(&message(1, 1, command::FIRE, &[3]), ReleaseKind::Energise, device);
        let set = trigger(&message(1, 1, command::SET, &[3, 0, 1, 0]), ReleaseKind::Energise, device);
        let cases: [(&ReleaseTrigger, u8, &[u8], bool); 8] = [
            (&fire, command::FIRE, &[3], true),
            (&fire, command::FIRE, &[4], false),
            (&fire, command::SET, &[4, 0, 1, 0], true),
            (&fire, command::GO, b"5", false),
            (&set, command::SET, &[3, 0, 9, 0], true),
            (&set, command::SET, &[4, 0, 1, 0], false),
            (&set, command::FIRE, &[3], true),
            (&set, command::GO, b"", true),
        ];
        for (trigger, code, data, doubted) in cases {
            assert_eq!(trigger.doubt(&message(1, 1, code, data), false).is_some(), doubted, "{code} {data:?}");
        }
        // If STOP fires the release, a command that only switches off is no longer harmless.
        let stop = trigger(&message(1, 1, command::STOP, b"5"), ReleaseKind::Energise, device);
        assert_eq!(stop.doubt(&message(1, 1, command::GO_OFF, b"5"), false), Some(Command));
        // A release that fires whatever comes next may be fired by any cue.
        let next = trigger(&message(1, 1, command::GO, b""), ReleaseKind::Energise, device);
        assert_eq!(next.doubt(&message(1, 1, command::GO, b"6"), false), Some(Command));
    }

    #[test]
    fn the_device_in_another_language() {
        let both = r#","channel":1,"channel_confirmed_by":"A","device":1,"format":1"#;
        let go = [0xf0, 0x7f, 1, 2, 1, 1, 0x35, 0xf7];
        let note = trigger(&[0x90, 60, 127], ReleaseKind::Energise, both);
        assert_eq!(note.doubt(&go, false), Some(Doubt::SameDevice));
        assert_eq!(note.doubt(&[0xf0, 0x7f, 2, 2, 1, 1, 0x35, 0xf7], false), None);
        let by_cue = trigger(&go, ReleaseKind::Energise, both);
        assert_eq!(by_cue.doubt(&[0x90, 1, 1], false), Some(Doubt::SameDevice));
        assert_eq!(by_cue.doubt(&[0x91, 1, 1], false), None);
        let exclusive = trigger(&[0xf0, 0, 0x21, 9, 1, 0xf7], ReleaseKind::Energise, both);
        expect(
            &exclusive,
            &[
                (&[0xf0, 0, 0x21, 9, 2, 0xf7], Some(Doubt::Exclusive)),
                (&[0xf0, 0, 0x21, 8, 1, 0xf7], None),
                (&[0xf0, 0x43, 1, 0xf7], None),
                (&[0x90, 1, 1], Some(Doubt::SameDevice)),
                (&[0xf0, 0, 0x21, 9, 1, 0xf7], Some(Doubt::Same)),
            ],
        );
    }
}
