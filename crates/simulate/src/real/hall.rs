//! The hall of a run on real ports: the far ends of the machine's ports, which a JACK server carries messages to, and a record of what
//! was handed over and what arrived.

use crate::happening::Happening;
use crate::scene::MACHINE;
use letfall_live::{Clock, Gone, InputCallback, MachineTime, PortInput, PortOut, Ports, SystemPorts};
use midir::os::unix::VirtualInput as _;
use midir::{Ignore, MidiInput, MidiInputConnection};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::Duration;

/// A message that was handed over this short a time before its port was pulled out may not have arrived.
const ON_THE_WAY: i64 = 100_000;

/// What happened, for the witness. It reads everything afterwards, in the order of the times.
pub enum Entry {
    Happened(Happening),
    Renewed(u64),
    OrderedStop,
    Sent { machine: usize, bytes: Vec<u8> },
    ToldTheEnd,
    BeforeTheEnd,
}

/// A port that is plugged in, until it is pulled out.
struct Plugged {
    machine: usize,
    until: Option<i64>,
    handed: Vec<(i64, Vec<u8>)>,
    arrived: Arc<Mutex<Vec<u8>>>,
    input: Option<MidiInputConnection<()>>,
}

/// The far ends of the ports, and what was handed over to them.
#[derive(Default)]
pub struct Hall {
    plugged: Vec<Plugged>,
    pub blocked_until: [i64; 3],
    pub entries: Vec<(i64, Entry)>,
}

impl Hall {
    /// Plugs a machine port in, unless it is there.
    pub fn plug(&mut self, machine: usize) -> Result<(), String> {
        if self.current(machine).is_some() {
            return Ok(());
        }
        let no_port = |why: String| format!("the far end of a port cannot be made: {why}");
        let mut input = MidiInput::new(MACHINE[machine]).map_err(|e| no_port(e.to_string()))?;
        input.ignore(Ignore::None);
        let arrived: Arc<Mutex<Vec<u8>>> = Arc::default();
        let heard = arrived.clone();
        let hear = move |_: u64, bytes: &[u8], (): &mut ()| {
            heard.lock().unwrap_or_else(PoisonError::into_inner).extend_from_slice(bytes);
        };
        let input = input.create_virtual("in", hear, ()).map_err(|e| no_port(e.to_string()))?;
        self.plugged.push(Plugged { machine, until: None, handed: Vec::new(), arrived, input: Some(input) });
        Ok(())
    }

    /// Pulls a machine port out. Returns the far end, which is to be dropped.
    pub fn unplug(&mut self, machine: usize, now: i64) -> Option<MidiInputConnection<()>> {
        let plugged = self.current(machine)?;
        plugged.until = Some(now);
        plugged.input.take()
    }

    fn current(&mut self, machine: usize) -> Option<&mut Plugged> {
        self.plugged.iter_mut().find(|plugged| plugged.machine == machine && plugged.until.is_none())
    }

    /// Says of each port where what arrived differs from what was handed over.
    pub fn differences(&self) -> Vec<String> {
        let mut differences = Vec::new();
        for plugged in &self.plugged {
            let arrived = plugged.arrived.lock().unwrap_or_else(PoisonError::into_inner);
            let handed: Vec<u8> = plugged.handed.iter().flat_map(|(_, bytes)| bytes.clone()).collect();
            let sure = |(at, _): &&(i64, Vec<u8>)| plugged.until.is_none_or(|until| at + ON_THE_WAY < until);
            let surely: usize = plugged.handed.iter().filter(sure).map(|(_, bytes)| bytes.len()).sum();
            let name = MACHINE[plugged.machine];
            if !handed.starts_with(&arrived) {
                let same = handed.iter().zip(arrived.iter()).take_while(|(one, other)| one == other).count();
                let (handed, arrived) = (&handed[same..], &arrived[same..]);
                let some = |bytes: &[u8]| format!("{:02X?}", &bytes[..bytes.len().min(12)]);
                differences.push(format!(
                    "{name}: after {same} bytes {} arrived, and {} was handed over",
                    some(arrived),
                    some(handed)
                ));
            } else if arrived.len() < surely {
                let missing = &handed[arrived.len()..surely];
                differences.push(format!("{name}: {missing:02X?} was handed over at the end and did not arrive"));
            }
        }
        differences
    }
}

/// The hall and the time, for everybody in a run.
#[derive(Clone)]
pub struct Shared {
    pub hall: Arc<Mutex<Hall>>,
    pub clock: Clock,
    /// When the run's time began.
    pub begin: MachineTime,
}

impl Shared {
    /// Microseconds since the run's time began.
    pub fn now(&self) -> i64 {
        (self.clock.now() - self.begin).micros()
    }

    pub fn with<R>(&self, act: impl FnOnce(&mut Hall) -> R) -> R {
        act(&mut self.hall.lock().unwrap_or_else(PoisonError::into_inner))
    }

    pub fn enter(&self, at: i64, entry: Entry) {
        self.with(|hall| hall.entries.push((at, entry)));
    }

    pub fn happened(&self, happening: Happening) {
        self.enter(self.now(), Entry::Happened(happening));
    }
}

/// The system's ports, with somebody who looks on.
pub struct WatchedPorts(pub SystemPorts, pub Shared);

struct WatchedPort {
    out: Box<dyn PortOut>,
    machine: usize,
    shared: Shared,
}

impl PortOut for WatchedPort {
    fn send(&mut self, bytes: &[u8]) -> Result<(), Gone> {
        let (machine, now) = (self.machine, self.shared.now());
        let blocked_until = self.shared.with(|hall| {
            if let Some(plugged) = hall.current(machine) {
                plugged.handed.push((now, bytes.to_vec()));
                hall.entries.push((now, Entry::Sent { machine, bytes: bytes.to_vec() }));
            }
            hall.blocked_until[machine]
        });
        if blocked_until > now {
            thread::sleep(Duration::from_micros((blocked_until - now).unsigned_abs()));
        }
        self.out.send(bytes)
    }
}

/// The name that the system gives a machine port.
pub fn system_name(machine: usize) -> String {
    format!("{}:in", MACHINE[machine])
}

impl Ports for WatchedPorts {
    fn outputs(&mut self) -> Result<Vec<String>, String> {
        self.0.outputs()
    }

    fn inputs(&mut self) -> Result<Vec<String>, String> {
        self.0.inputs()
    }

    fn open(&mut self, name: &str) -> Result<Box<dyn PortOut>, String> {
        let machine = (0..3).find(|at| system_name(*at) == name).ok_or("an unknown port was asked for")?;
        let out = self.0.open(name)?;
        Ok(Box::new(WatchedPort { out, machine, shared: self.1.clone() }))
    }

    fn listen(&mut self, name: &str, heard: InputCallback) -> Result<PortInput, String> {
        self.0.listen(name, heard)
    }
}
