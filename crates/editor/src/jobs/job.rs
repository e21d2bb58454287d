//! Long work beside the screen: one at a time, told while it goes on, given up at a word.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, TryRecvError, channel};
use std::thread;

/// What the worker says.
enum JobMessage<T> {
    Step(u8, &'static str),
    Done(T),
}

/// Job that goes on.
pub struct Job<T> {
    /// What it is, such as "Opening lantern-night.letfall".
    pub words: String,
    step: &'static str,
    done: u8,
    steps: u8,
    from: Receiver<JobMessage<T>>,
    stop: Arc<AtomicBool>,
}

/// The worker's end.
pub struct JobContext<T> {
    to: Sender<JobMessage<T>>,
    stop: Arc<AtomicBool>,
    wake: Arc<dyn Fn() + Send + Sync>,
}

impl<T> JobContext<T> {
    /// Says which step comes now, counted from 0; `false` when the work was given up.
    pub fn step(&self, at: u8, words: &'static str) -> bool {
        drop(self.to.send(JobMessage::Step(at, words)));
        (self.wake)();
        !self.stop.load(Ordering::Acquire)
    }
}

impl<T: Send + 'static> Job<T> {
    /// Starts work of so many steps. A worker that finds itself given up must leave everything as it was.
    ///
    /// # Errors
    /// When the system has no thread to give, in words.
    pub fn start(
        words: impl Into<String>,
        steps: u8,
        wake: Arc<dyn Fn() + Send + Sync>,
        work: impl FnOnce(&JobContext<T>) -> T + Send + 'static,
    ) -> Result<Job<T>, String> {
        let (to, from) = channel();
        let stop = Arc::new(AtomicBool::new(false));
        let desk = JobContext { to, stop: stop.clone(), wake };
        let run = move || {
            let result = work(&desk);
            drop(desk.to.send(JobMessage::Done(result)));
            (desk.wake)();
        };
        thread::Builder::new()
            .name("job".into())
            .spawn(run)
            .map_err(|e| format!("the system has no thread for this now ({e}); try again"))?;
        Ok(Job { words: words.into(), step: "", done: 0, steps, from, stop })
    }

    /// What has been done since the last look: the result, or that the worker is gone.
    pub fn poll(&mut self) -> Option<Result<T, String>> {
        loop {
            match self.from.try_recv() {
                Ok(JobMessage::Step(at, words)) => (self.done, self.step) = (at, words),
                Ok(JobMessage::Done(result)) => return Some(Ok(result)),
                Err(TryRecvError::Empty) => return None,
                Err(TryRecvError::Disconnected) => {
                    return Some(Err("the work broke off; nothing was changed".to_owned()));
                }
            }
        }
    }

    /// How far it is, 0 to 1.
    pub fn share(&self) -> f32 {
        (f32::from(self.done) + 0.5) / f32::from(self.steps.max(1))
    }

    /// What is being done now.
    pub const fn step(&self) -> &'static str {
        self.step
    }
}

impl<T> Drop for Job<T> {
    /// Job that nobody waits for is given up.
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Release);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Barrier;

    fn wait<T: Send + 'static>(work: &mut Job<T>) -> Result<T, String> {
        loop {
            if let Some(result) = work.poll() {
                return result;
            }
            thread::yield_now();
        }
    }

    #[test]
    fn steps_are_told_and_the_result_comes() {
        let mut work = Job::start("Counting", 2, Arc::new(|| {}), |desk| {
            assert!(desk.step(1, "two"));
            7
        })
        .unwrap();
        assert_eq!(wait(&mut work), Ok(7));
        assert_eq!((work.step(), work.share()), ("two", 0.75));
    }

    #[test]
    fn work_that_is_dropped_learns_of_it() {
        let (gate, seen) = (Arc::new(Barrier::new(2)), Arc::new(AtomicBool::new(false)));
        let (there, told) = (gate.clone(), seen.clone());
        let work = Job::start("Waiting", 1, Arc::new(|| {}), move |desk| {
            there.wait();
            told.store(!desk.step(0, "on"), Ordering::Release);
            there.wait();
        })
        .unwrap();
        drop(work);
        gate.wait();
        gate.wait();
        assert!(seen.load(Ordering::Acquire));
    }

    #[test]
    fn work_that_breaks_off_is_told() {
        let mut work = Job::start("Breaking", 1, Arc::new(|| {}), |_| {
            if true {
                std::panic::resume_unwind(Box::new("no sound"));
            }
        })
        .unwrap();
        assert!(wait(&mut work).is_err());
    }
}
