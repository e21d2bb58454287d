//! A run that goes on, as the screen holds it.

use super::clocks::Clock;
use super::runner_event::RunnerEvent;
use super::shared::{CommandQueue, PortThreads, SharedList};
use crate::command::Command;
use crate::orders::{Grip, Orders, Place};
use crate::units::{HolderId, MachineTime, ReleaseIndex};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::Receiver;
use std::thread::{self, JoinHandle, Thread};
use std::time::Duration;

/// How long the threads have from stop-all to paying what they owe, before they are told that the run is over.
const TO_PAY: Duration = Duration::from_millis(5);

/// How long the end of a run waits for the threads of the ports: silence on a five-pin cable takes 31 ms, a slower link longer.
const MOST_TO_PAY: Duration = Duration::from_millis(1500);

/// A run that goes on.
pub struct Handle {
    pub(super) commands: CommandQueue,
    pub(super) orders: Arc<Orders>,
    pub(super) quit: Arc<AtomicBool>,
    pub(super) sender: Thread,
    pub(super) ports: PortThreads,
    /// What is heard of it.
    pub events: Receiver<RunnerEvent>,
    pub(super) clock: Clock,
    pub(super) names: SharedList<Option<String>>,
    pub(super) reassigned: Arc<AtomicBool>,
    pub(super) holders: SharedList<String>,
    pub(super) threads: Vec<JoinHandle<()>>,
}

impl Handle {
    /// Gives a command. `false` if it was not taken: so many wait, or nothing runs any more. A stop is always taken while it runs.
    pub fn command(&self, command: Command) -> bool {
        let taken = self.commands.give(command);
        self.sender.unpark();
        taken
    }

    /// Stops everything: nothing that was handed over before leaves any more, what was begun ends, every lock closes. It cannot be
    /// refused, and the threads of the ports obey it though the sending thread does not.
    pub fn stop_all(&self) {
        self.orders.order_stop_all();
        self.ports.wake();
        self.sender.unpark();
    }

    /// A hand let go of a release. It cannot be refused.
    pub fn let_go(&self, release: ReleaseIndex, grip: Grip) {
        self.orders.let_go(release, grip);
        self.sender.unpark();
    }

    /// Every hand let go of every release, up to this grip.
    pub fn let_go_all(&self, grip: Grip) {
        self.orders.let_go_all(grip);
        self.sender.unpark();
    }

    /// Where the run is, as the engine last said it.
    pub fn place(&self) -> Place {
        self.orders.place()
    }

    /// Whether the sending thread has ended: then nothing is sent any more.
    pub fn has_ended(&self) -> bool {
        self.orders.has_ended()
    }

    /// Gives commands from elsewhere, such as what listens to a port.
    pub fn commander(&self) -> impl Fn(Command) -> bool + Send + use<> {
        let (commands, sender) = (self.commands.clone(), self.sender.clone());
        move |command| {
            let taken = commands.give(command);
            sender.unpark();
            taken
        }
    }

    /// The machine's clock.
    pub fn clock(&self) -> Clock {
        self.clock.clone()
    }

    /// Time of the machine's clock.
    pub fn now(&self) -> MachineTime {
        self.clock.now()
    }

    /// The number of a person who holds a release open.
    pub fn holder(&self, name: &str) -> HolderId {
        self.holders.with(|holders| {
            let at = holders.iter().position(|h| h == name).unwrap_or_else(|| {
                holders.push(name.to_owned());
                holders.len() - 1
            });
            HolderId::at(at)
        })
    }

    /// Connects the show's ports to others of the machine.
    pub fn connect(&self, names: Vec<Option<String>>) {
        self.names.with(|own| *own = names);
        self.reassigned.store(true, Ordering::Release);
    }

    /// Ends the run on a thread of its own, so that no screen waits for it: everything stops and ends before the threads do.
    /// Gives the thread, for whoever wants to know when all is over.
    pub fn end(self) -> Option<JoinHandle<()>> {
        thread::Builder::new().name("end of run".into()).spawn(move || drop(self)).ok()
    }
}

impl Drop for Handle {
    /// Everything stops and ends before the threads do.
    fn drop(&mut self) {
        self.stop_all();
        thread::sleep(TO_PAY);
        self.quit.store(true, Ordering::Release);
        self.sender.unpark();
        for thread in self.threads.drain(..) {
            drop(thread.join());
        }
        let _all_paid = self.ports.wait(MOST_TO_PAY);
    }
}
