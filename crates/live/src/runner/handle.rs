//! A run that goes on, as the screen holds it.

use super::clocks::Clock;
use super::runner_event::RunnerEvent;
use super::shared::{CommandQueue, SharedList};
use crate::command::Command;
use crate::units::{HolderId, MachineTime};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::Receiver;
use std::thread::{self, JoinHandle, Thread};
use std::time::Duration;

/// A run that goes on.
pub struct Handle {
    pub(super) commands: CommandQueue,
    pub(super) stop_all: Arc<AtomicBool>,
    pub(super) quit: Arc<AtomicBool>,
    pub(super) sender: Thread,
    /// What is heard of it.
    pub events: Receiver<RunnerEvent>,
    pub(super) clock: Clock,
    pub(super) names: SharedList<Option<String>>,
    pub(super) reassigned: Arc<AtomicBool>,
    pub(super) holders: SharedList<String>,
    pub(super) threads: Vec<JoinHandle<()>>,
}

impl Handle {
    /// Gives a command. `false` if so many wait that it was not taken: give it again.
    pub fn command(&self, command: Command) -> bool {
        let taken = if command == Command::StopAll {
            // Never in a queue.
            self.stop_all.store(true, Ordering::Release);
            true
        } else {
            self.commands.give(command)
        };
        self.sender.unpark();
        taken
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
        self.stop_all.store(true, Ordering::Release);
        self.sender.unpark();
        thread::sleep(Duration::from_millis(5));
        self.quit.store(true, Ordering::Release);
        self.sender.unpark();
        for thread in self.threads.drain(..) {
            drop(thread.join());
        }
    }
}
