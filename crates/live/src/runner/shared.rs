//! Types that the threads of a run share.

use super::port_worker::PortWorker;
use crate::command::Command;
use crate::gate::PortLink;
use crate::orders::Orders;
use crate::units::{PhysicalPort, ShowPort};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{self, JoinHandle, Thread};
use std::time::{Duration, Instant};

/// A change of ports, for the sending thread.
pub enum PortChange {
    /// A machine port was added.
    Add(PhysicalPort, PortLink),
    /// A machine port was assigned to a port of the show.
    Assign(ShowPort, Option<PhysicalPort>),
    /// A machine port was looked for and not found.
    Missing(PhysicalPort),
}

/// The queue of commands to the engine, from several threads. Each command carries the number of stops that had been ordered
/// when it was given, because a start that was given before a stop must not run after it.
#[derive(Clone)]
pub struct CommandQueue {
    give: Arc<Mutex<rtrb::Producer<(u64, Command)>>>,
    orders: Arc<Orders>,
}

impl CommandQueue {
    /// A queue, and the end from which the engine reads.
    pub fn new(size: usize, orders: Arc<Orders>) -> (CommandQueue, rtrb::Consumer<(u64, Command)>) {
        let (give, take) = rtrb::RingBuffer::new(size);
        (CommandQueue { give: Arc::new(Mutex::new(give)), orders }, take)
    }

    /// Gives a command. `false` if it is not taken, because the queue is full or the sending thread has ended.
    pub fn give(&self, command: Command) -> bool {
        if self.orders.has_ended() {
            return false;
        }
        if command == Command::Stop && !crate::planted!(StopInQueue) {
            self.orders.order_stop();
            return true;
        }
        let generation = self.orders.generation();
        self.give.lock().unwrap_or_else(PoisonError::into_inner).push((generation, command)).is_ok()
    }
}

/// The threads of the ports. They are woken at stop-all and obey it themselves, whatever the sending thread does.
#[derive(Clone, Default)]
pub struct PortThreads(Arc<Mutex<Vec<JoinHandle<()>>>>);

impl PortThreads {
    /// Adds a thread.
    pub fn add(&self, thread: JoinHandle<()>) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).push(thread);
    }

    /// Wakes all.
    pub fn wake(&self) {
        for thread in self.0.lock().unwrap_or_else(PoisonError::into_inner).iter() {
            thread.thread().unpark();
        }
    }

    /// Waits until all have sent what they owe and ended, but at most this long, so that a stuck driver cannot block the end.
    /// Returns whether all have ended.
    pub fn wait(&self, most: Duration) -> bool {
        let begin = Instant::now();
        loop {
            self.wake();
            if self.0.lock().unwrap_or_else(PoisonError::into_inner).iter().all(JoinHandle::is_finished) {
                return true;
            }
            if begin.elapsed() > most {
                return false;
            }
            thread::sleep(Duration::from_millis(2));
        }
    }
}

/// Gives a port's worker a thread, or something else that drives it. Returns the thread if there is one.
pub type SpawnWorker = Box<dyn FnMut(PortWorker) -> Result<Option<Thread>, String> + Send>;

/// A list that several threads read and write, each holding the lock only briefly.
#[derive(Clone, Default)]
pub struct SharedList<T>(Arc<Mutex<Vec<T>>>);

impl<T> SharedList<T> {
    /// Shares a list.
    pub fn new(list: Vec<T>) -> SharedList<T> {
        SharedList(Arc::new(Mutex::new(list)))
    }

    /// Calls a function with the list while it is locked.
    pub fn with<R>(&self, act: impl FnOnce(&mut Vec<T>) -> R) -> R {
        act(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}
