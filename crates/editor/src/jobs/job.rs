//! Long work on a background thread, which reports its progress and can be stopped.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, TryRecvError, channel};
use std::thread;

/// Messages from the worker.
enum JobMessage<T> {
    Step(u8, &'static str),
    Done(T),
}

/// A running job.
pub struct Job<T> {
    /// What it is, such as "Opening lantern-night.letfall".
    pub words: String,
    step: &'static str,
    done: u8,
    steps: u8,
    from: Receiver<JobMessage<T>>,
    stop: Arc<AtomicBool>,
}

/// The worker's side of a job.
pub struct JobContext<T> {
    to: Sender<JobMessage<T>>,
    stop: Arc<AtomicBool>,
    wake: Arc<dyn Fn() + Send + Sync>,
}

impl<T> JobContext<T> {
    /// Reports the step that starts now, counted from 0; `false` if the job was stopped.
    pub fn step(&self, at: u8, words: &'static str) -> bool {
        drop(self.to.send(JobMessage::Step(at, words)));
        (self.wake)();
        !self.stop.load(Ordering::Acquire)
    }
}

impl<T: Send + 'static> Job<T> {
    /// Starts a job with this many steps. A worker that finds it was stopped must leave everything as it was.
    ///
    /// # Errors
    /// If the system cannot start a thread, in words.
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

    /// Checks for news: the result if the job is done, or an error if the worker has died.
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

    /// Progress, 0 to 1.
    pub fn share(&self) -> f32 {
        (f32::from(self.done) + 0.5) / f32::from(self.steps.max(1))
    }

    /// The current step.
    pub const fn step(&self) -> &'static str {
        self.step
    }
}

impl<T> Drop for Job<T> {
    /// A job that is dropped is stopped.
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
