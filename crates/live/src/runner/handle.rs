//! The screen's handle on a run.

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

/// How long the threads have after stop-all to send what they owe, before they are told that the run is over.
const TO_PAY: Duration = Duration::from_millis(5);

/// How long the end of a run waits for the threads of the ports. Silencing over a five-pin cable takes 31 ms, over a slower
/// link longer.
const MOST_TO_PAY: Duration = Duration::from_millis(1500);

/// A run in progress.
pub struct Handle {
    pub(super) commands: CommandQueue,
    pub(super) orders: Arc<Orders>,
    pub(super) quit: Arc<AtomicBool>,
    pub(super) sender: Thread,
    pub(super) ports: PortThreads,
    /// What the run's threads report.
    pub events: Receiver<RunnerEvent>,
    pub(super) clock: Clock,
    pub(super) names: SharedList<Option<String>>,
    pub(super) reassigned: Arc<AtomicBool>,
    pub(super) holders: SharedList<String>,
    pub(super) threads: Vec<JoinHandle<()>>,
}

impl Handle {
    /// Gives a command. `false` if it was not taken, because the queue is full or the sending thread has ended. Until then, a
    /// stop is always taken.
    pub fn command(&self, command: Command) -> bool {
        let taken = self.commands.give(command);
        self.sender.unpark();
        taken
    }

    /// Stops everything. Messages that were handed over before no longer leave, what is still on is ended, and every lock
    /// closes. This cannot be refused, and the threads of the ports obey it even if the sending thread does not.
    pub fn stop_all(&self) {
        self.orders.order_stop_all();
        self.ports.wake();
        self.sender.unpark();
    }

    /// A person let go of a release. This cannot be refused.
    pub fn let_go(&self, release: ReleaseIndex, grip: Grip) {
        self.orders.let_go(release, grip);
        self.sender.unpark();
    }

    /// All releases were let go, up to this grip.
    pub fn let_go_all(&self, grip: Grip) {
        self.orders.let_go_all(grip);
        self.sender.unpark();
    }

    /// Where the run is, as last published by the engine.
    pub fn place(&self) -> Place {
        self.orders.place()
    }

    /// Whether the sending thread has ended. After that no command has any effect.
    pub fn has_ended(&self) -> bool {
        self.orders.has_ended()
    }

    /// A function that gives commands from elsewhere, such as from an input port's callback.
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

    /// The time by the machine's clock.
    pub fn now(&self) -> MachineTime {
        self.clock.now()
    }

    /// The number for a person who holds releases. A new name gets a new number.
    pub fn holder(&self, name: &str) -> HolderId {
        self.holders.with(|holders| {
            let at = holders.iter().position(|h| h == name).unwrap_or_else(|| {
                holders.push(name.to_owned());
                holders.len() - 1
            });
            HolderId::at(at)
        })
    }

    /// Assigns other machine ports to the show's ports.
    pub fn connect(&self, names: Vec<Option<String>>) {
        self.names.with(|own| *own = names);
        self.reassigned.store(true, Ordering::Release);
    }

    /// Ends the run on a separate thread, so that the screen does not wait for it. Everything is stopped and ended before the
    /// threads end. Returns the thread, for anybody who wants to know when it is over.
    pub fn end(self) -> Option<JoinHandle<()>> {
        thread::Builder::new().name("end of run".into()).spawn(move || drop(self)).ok()
    }
}

impl Drop for Handle {
    /// Stops and ends everything before the threads end.
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
