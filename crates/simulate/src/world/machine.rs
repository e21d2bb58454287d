//! The simulated machine: its clocks, its ports, and drivers that fail.

use crate::scene::MACHINE;
use letfall_live::planted::{Planted, is_planted};
use letfall_live::{Clocks, Gone, InputCallback, MachineSpan, MachineTime, PortInput, PortOut, Ports, UnixTime};
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

/// For each machine port, whether its driver accepts messages when the device is gone, as a sound server does, instead of refusing
/// them.
const ACCEPTS_INTO_NOWHERE: [bool; 3] = [false, true, true];

/// The machine's clocks.
#[derive(Default)]
pub struct SimClock {
    pub now: AtomicI64,
    pub wall: AtomicI64,
    pub asleep: AtomicI64,
}

impl Clocks for SimClock {
    fn now(&self) -> MachineTime {
        MachineTime::from_micros(self.now.load(Ordering::Relaxed))
    }
    fn wall(&self) -> UnixTime {
        UnixTime::from_micros(self.now.load(Ordering::Relaxed) + self.wall.load(Ordering::Relaxed))
    }
    fn asleep(&self) -> MachineSpan {
        MachineSpan::from_micros(self.asleep.load(Ordering::Relaxed))
    }
    fn wait_until(&self, _: MachineTime) {}
    fn rest_until(&self, _: MachineTime) {}
}

/// The simulated state of the machine's ports.
#[derive(Default)]
pub struct Machine {
    pub there: [bool; 3],
    pub fails: [bool; 3],
    pub panics: [bool; 3],
    /// What was handed over to drivers: when, to which machine port, and the bytes.
    pub sent: Vec<(i64, usize, Vec<u8>)>,
    /// Names that were opened, and the machine port that each open returned.
    pub opened: Vec<(String, usize)>,
}

#[derive(Clone)]
pub struct SimPorts(pub Arc<Mutex<Machine>>, pub Arc<SimClock>);

struct SimWire(usize, SimPorts);

impl SimPorts {
    pub fn with<R>(&self, act: impl FnOnce(&mut Machine) -> R) -> R {
        act(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

impl PortOut for SimWire {
    fn send(&mut self, bytes: &[u8]) -> Result<(), Gone> {
        let now = self.1.1.now().micros();
        let panics = self.1.with(|machine| {
            if !machine.there[self.0] && ACCEPTS_INTO_NOWHERE[self.0] {
                return Ok(false);
            }
            if !machine.there[self.0] || std::mem::take(&mut machine.fails[self.0]) {
                return Err(Gone);
            }
            if std::mem::take(&mut machine.panics[self.0]) {
                return Ok(true);
            }
            machine.sent.push((now, self.0, bytes.to_vec()));
            Ok(false)
        })?;
        assert!(!panics, "the driver panics");
        Ok(())
    }
}

impl Ports for SimPorts {
    fn outputs(&mut self) -> Result<Vec<String>, String> {
        Ok(self.with(|machine| (0..3).filter(|at| machine.there[*at]).map(|at| MACHINE[at].to_owned()).collect()))
    }

    fn inputs(&mut self) -> Result<Vec<String>, String> {
        Ok(Vec::new())
    }

    fn open(&mut self, name: &str) -> Result<Box<dyn PortOut>, String> {
        let prefix = is_planted(Planted::PortByPrefix);
        let found = self.with(|machine| {
            let fits =
                |at: &usize| machine.there[*at] && (MACHINE[*at] == name || prefix && MACHINE[*at].starts_with(name));
            let found = (0..3).find(fits)?;
            machine.opened.push((name.to_owned(), found));
            Some(found)
        });
        found.map_or_else(
            || Err("it is gone".to_owned()),
            |at| Ok(Box::new(SimWire(at, self.clone())) as Box<dyn PortOut>),
        )
    }

    fn listen(&mut self, _: &str, _: InputCallback) -> Result<PortInput, String> {
        Err("nothing to listen to".to_owned())
    }
}
