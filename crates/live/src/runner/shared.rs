//! What the threads of a run share.

use super::port_worker::PortWorker;
use crate::command::Command;
use crate::gate::PortLink;
use crate::orders::Orders;
use crate::units::{PhysicalPort, ShowPort};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{self, JoinHandle, Thread};
use std::time::{Duration, Instant};

/// What changes about ports, for the sending thread.
pub enum PortChange {
    /// A machine port exists from now on.
    Add(PhysicalPort, PortLink),
    /// Which machine port stands for a port of the show.
    Assign(ShowPort, Option<PhysicalPort>),
    /// It was looked for and is not there.
    Missing(PhysicalPort),
}

/// Commands on their way to the engine. Several threads give them. Each carries the number of stops that had been ordered when it was
/// given: a start that was given before a stop must not run after it.
#[derive(Clone)]
pub struct CommandQueue {
    give: Arc<Mutex<rtrb::Producer<(u64, Command)>>>,
    orders: Arc<Orders>,
}

impl CommandQueue {
    /// A queue, and the end from which the engine takes.
    pub fn new(size: usize, orders: Arc<Orders>) -> (CommandQueue, rtrb::Consumer<(u64, Command)>) {
        let (give, take) = rtrb::RingBuffer::new(size);
        (CommandQueue { give: Arc::new(Mutex::new(give)), orders }, take)
    }

    /// Gives a command. `false` where it is not taken: so many wait already, or the sending thread has ended.
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

/// The threads of the ports, to be woken when stop-all is ordered: they obey it themselves, whatever the sending thread does.
#[derive(Clone, Default)]
pub struct PortThreads(Arc<Mutex<Vec<JoinHandle<()>>>>);

impl PortThreads {
    /// One more.
    pub fn add(&self, thread: JoinHandle<()>) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).push(thread);
    }

    /// Wakes all.
    pub fn wake(&self) {
        for thread in self.0.lock().unwrap_or_else(PoisonError::into_inner).iter() {
            thread.thread().unpark();
        }
    }

    /// Waits until all have paid what they owe and ended, but no longer than this: one that is stuck in its driver holds nobody up.
    /// Gives whether all have ended.
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

/// Gives the machine of a port a thread, or something else that turns it. Gives the thread.
pub type SpawnWorker = Box<dyn FnMut(PortWorker) -> Result<Option<Thread>, String> + Send>;

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
