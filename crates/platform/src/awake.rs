//! Keeps the machine awake and its screen on during a run, if the system allows it.

use std::sync::mpsc::{Receiver, Sender, TryRecvError, channel};
use std::thread;

/// Prevents sleep and screen blanking until it is dropped.
pub struct Awake {
    told: Option<Receiver<Result<(), String>>>,
    _stop: Sender<()>,
}

impl Awake {
    /// Asks the system on a separate thread, because the answer may take a while.
    pub fn begin() -> Awake {
        let (tell, told) = channel();
        let (stop, until) = channel::<()>();
        let ask = move || {
            let mut asked = keepawake::Builder::default();
            asked.display(true).idle(true).sleep(true).reason("a run goes on").app_name("Letfall");
            match asked.create() {
                Ok(held) => {
                    drop(tell.send(Ok(())));
                    // Wait until the run ends.
                    let _ended = until.recv();
                    drop(held);
                }
                Err(why) => drop(tell.send(Err(why.to_string()))),
            }
        };
        let started = thread::Builder::new().name("awake".into()).spawn(ask);
        Awake { told: started.is_ok().then_some(told), _stop: stop }
    }

    /// What the user should know about it, reported once.
    pub fn told(&mut self) -> Option<String> {
        let answer = match self.told.as_ref()?.try_recv() {
            Ok(answer) => answer,
            Err(TryRecvError::Empty) => return None,
            Err(TryRecvError::Disconnected) => Err("it did not answer".to_owned()),
        };
        self.told = None;
        let words =
            "The system does not let sleep and screen blanking be held off: switch them off by hand before the show";
        answer.err().map(|_| words.to_owned())
    }
}
