//! What people, clocks and faults do to a run.

use super::{Hand, World};
use crate::happening::Happening;
use crate::scene::MACHINE;
use crate::script::{Action, Bending};
use letfall_core::time::SongTime;
use letfall_live::{BandPlace, Bend, Command, Grip, HolderId, MachineTime, Mode, Part, Rate, ReleaseIndex};
use std::sync::atomic::Ordering;

impl World<'_> {
    pub(super) fn happen(&mut self, now: i64, happening: &Happening) {
        self.witness.happened(now, happening);
    }

    /// Gives a command. The witness learns of it when the sending thread does. If the queue is full, nothing happens.
    fn give(&mut self, command: Command, happening: Happening) {
        if self.commands.give(command) {
            self.pending.push(happening);
        } else if self.sending.is_none() {
            self.witness.refused();
        }
    }

    /// Commands given before a stop and not yet seen by the sending thread must not be obeyed after the stop.
    fn outdate(&mut self) {
        self.pending.retain(|happening| {
            !matches!(
                happening,
                Happening::Start { .. }
                    | Happening::FollowStart { .. }
                    | Happening::Follow { .. }
                    | Happening::Locate
                    | Happening::SecondTry { .. }
                    | Happening::Bend(_)
                    | Happening::Band { .. }
                    | Happening::BandEnds
            )
        });
    }

    #[allow(clippy::too_many_lines)]
    pub(super) fn act(&mut self, action: &Action, now: i64) {
        let song = SongTime::saturating;
        let at = MachineTime::from_micros(now);
        match *action {
            Action::Start { song: place, chase } => {
                self.give(Command::NewRun, Happening::NewRun);
                self.give(
                    Command::Start { song: song(place), at, chase },
                    Happening::Start { song: place, at: now, chase },
                );
            }
            Action::Stop => {
                self.outdate();
                // Stop is an order, so it gets through however many commands are waiting.
                if self.commands.give(Command::Stop) {
                    self.witness.ordered_stop(now);
                } else if self.sending.is_some() {
                    self.witness.object(13, now, "a stop was refused");
                }
                self.pending.push(Happening::Stop);
            }
            Action::StopAll => {
                self.outdate();
                self.orders.order_stop_all();
                self.happen(now, &Happening::StopAll);
                self.pending.push(Happening::Stop);
            }
            Action::Locate { song: place } => {
                self.give(Command::Locate { song: song(place) }, Happening::Locate);
            }
            Action::Loop(part) => {
                let loops = part.map(|(from, to)| (song(from), song(to)));
                self.give(Command::Loop(loops), Happening::Loop(part));
            }
            Action::Perform(performs) => {
                let mode = if performs { Mode::Perform } else { Mode::Rehearse };
                self.give(Command::Mode(mode), Happening::Perform(performs));
            }
            Action::Press { release, who } => {
                self.lift(now);
                self.grip += 1;
                self.hand = Some(Hand { release, who, renew: now });
                self.happen(now, &Happening::Press { release, grip: self.grip });
            }
            Action::Lift => self.lift(now),
            Action::LateHold => {
                if let Some(hand) = &self.hand {
                    let (release, holder) = (ReleaseIndex::at(hand.release), HolderId(hand.who));
                    self.lift(now);
                    let _taken = self.commands.give(Command::Hold { release, holder, grip: Grip(self.grip), at });
                }
            }
            Action::SecondTry { release } => {
                let command = Command::SecondTry { release: ReleaseIndex::at(release) };
                self.give(command, Happening::SecondTry { release });
            }
            Action::Bend(bending) => {
                let release = ReleaseIndex::at;
                let bend = match bending {
                    Bending::Wait(at) => Bend::Wait { at: song(at) },
                    Bending::GoOn => Bend::GoOn,
                    Bending::Vamp(from, to) => Bend::Vamp { from: song(from), to: song(to) },
                    Bending::Leave => Bend::Leave { at: None },
                    Bending::Cut(from, to) => Bend::Cut { from: song(from), to: song(to) },
                    Bending::Stays(of) => Bend::Stays { release: release(of) },
                    Bending::Stuck(of) => Bend::Stuck { release: release(of), part: Part::All },
                    Bending::Down(of) => Bend::Down { release: release(of) },
                    Bending::TryAt(of, shift) => {
                        let facts = &self.scene.releases[of];
                        let wire = i64::try_from(facts.row.len()).unwrap_or(0) * crate::scene::BYTE_US;
                        Bend::TryAt { release: release(of), land: song(facts.send + wire + shift) }
                    }
                    Bending::ByHand => Bend::ByHand,
                    Bending::Next => Bend::Next,
                };
                self.give(Command::Bend { bend, by: HolderId(0) }, Happening::Bend(bending));
            }
            Action::Unplug(machine) => {
                self.ports.with(|ports| ports.there[machine] = false);
                self.happen(now, &Happening::Port { machine, there: false });
            }
            Action::Plug(machine) => {
                self.ports.with(|ports| ports.there[machine] = true);
                self.happen(now, &Happening::Port { machine, there: true });
            }
            Action::FailDriver(machine) => {
                self.ports.with(|ports| ports.fails[machine] = true);
                self.happen(now, &Happening::Fault { machine });
            }
            Action::PanicDriver(machine) => {
                self.ports.with(|ports| ports.panics[machine] = true);
                self.happen(now, &Happening::Fault { machine });
            }
            Action::Block(machine, long) => {
                self.blocked_until[machine] = self.blocked_until[machine].max(now + long);
                self.happen(now, &Happening::Blocked { machine, until: now + long });
            }
            Action::StallSender(long) => {
                self.stalled_until = self.stalled_until.max(now + long);
                self.happen(now, &Happening::Stalled { until: now + long });
            }
            Action::PanicSender => {
                if let Some(sending) = self.sending.take() {
                    sending.end(true);
                    self.happen(now, &Happening::Broke);
                }
            }
            Action::StallScreen(long) => {
                self.screen_until = self.screen_until.max(now + long);
                self.happen(now, &Happening::ScreenStalled { until: now + long });
            }
            Action::Follow(off) => {
                if let Some(place) = self.witness.place(now) {
                    let to = (place + off).clamp(-1_000_000, crate::scene::SONG_US - 500_000);
                    self.give(Command::Follow { song: song(to), at }, Happening::Follow { song: to, at: now });
                }
            }
            Action::Band { off, sure, heard } => {
                let place = self.witness.place(now);
                // Of a run that has not begun, or is not known to have, nobody tells a place.
                let heard = heard && place.is_some();
                let to = (place.unwrap_or(0) + off).clamp(-1_000_000, crate::scene::SONG_US - 500_000);
                let turns = if heard { self.turns } else { self.turns.wrapping_sub(1) };
                let place = place.filter(|_| heard).map(|_| to);
                // Whoever has not heard of the turn supposes that the song went on straight.
                let told = if heard { to } else { to + 3_000_000 };
                let band = BandPlace { song: song(told), at, rate: Rate::PLANNED, sure, turns };
                self.give(Command::Band(Some(band)), Happening::Band { song: place, at: now, sure });
            }
            Action::NoBand => {
                self.give(Command::Band(None), Happening::Band { song: None, at: now, sure: false });
            }
            Action::BandEnds => self.give(Command::BandEnds, Happening::BandEnds),
            Action::FollowStart { song: place } => {
                self.give(
                    Command::FollowStart { song: song(place), at },
                    Happening::FollowStart { song: place, at: now },
                );
            }
            Action::Flood => {
                while self.commands.give(Command::Slept) {}
                self.happen(now, &Happening::Disturbed("the queue of commands is full"));
                self.pending.push(Happening::Slept);
            }
            Action::Sleep => {
                self.clock.asleep.fetch_add(5_000_000, Ordering::Relaxed);
                self.happen(now, &Happening::Disturbed("the machine slept"));
            }
            Action::SetWall => {
                self.clock.wall.fetch_add(3_600_000_000, Ordering::Relaxed);
                self.happen(now, &Happening::WallSet);
            }
            Action::Assign { port, machine } => {
                self.names.with(|names| {
                    if let Some(name) = names.get_mut(port) {
                        *name = Some(MACHINE[machine].to_owned());
                    }
                });
                self.reassigned.store(true, Ordering::Release);
                self.supervisor_due = now;
                self.happen(now, &Happening::Assigned { port, machine });
            }
        }
        self.sender_due = now;
        debug_assert!(self.scene.machine.len() < 4);
    }

    fn lift(&mut self, now: i64) {
        if let Some(hand) = self.hand.take() {
            self.orders.let_go(ReleaseIndex::at(hand.release), Grip(self.grip));
            self.happen(now, &Happening::Lift);
        }
    }
}
