//! What the threads of a run share.

use crate::command::Command;
use crate::ports::PortOut;
use crate::units::{PhysicalPort, ShowPort};
use std::sync::{Arc, Mutex, PoisonError};

/// What changes about a port of the show. Connection and machine port change in one go and before any command: nothing is sent
/// by a port that is taken for another.
pub enum PortChange {
    /// It is not open; which of the machine's ports stands for it.
    Assign(ShowPort, Option<PhysicalPort>),
    /// It is open, on one of the machine's ports.
    Open(ShowPort, Box<dyn PortOut>, Option<PhysicalPort>),
    /// It is open no longer.
    Close(ShowPort),
}

/// Commands on their way to the engine. Several threads give them.
#[derive(Clone)]
pub struct CommandQueue(Arc<Mutex<rtrb::Producer<Command>>>);

impl CommandQueue {
    /// A queue, and the end from which the engine takes.
    pub fn new(size: usize) -> (CommandQueue, rtrb::Consumer<Command>) {
        let (give, take) = rtrb::RingBuffer::new(size);
        (CommandQueue(Arc::new(Mutex::new(give))), take)
    }

    /// Gives a command; `false` where the queue is full.
    pub fn give(&self, command: Command) -> bool {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).push(command).is_ok()
    }
}

/// A list that is read and written by several threads, each for a moment.
#[derive(Clone, Default)]
pub struct SharedList<T>(Arc<Mutex<Vec<T>>>);

impl<T> SharedList<T> {
    /// Shares a list.
    pub fn new(list: Vec<T>) -> SharedList<T> {
        SharedList(Arc::new(Mutex::new(list)))
    }

    /// Does something with the list.
    pub fn with<R>(&self, act: impl FnOnce(&mut Vec<T>) -> R) -> R {
        act(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}
