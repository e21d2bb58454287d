//! A small separate process that opens contacts again if the program dies before it can do so itself: killed, out of memory, or
//! its display or terminal gone.
//!
//! The program reports every contact that it closes and every one that it has opened again. When the connection ends because
//! the program has died, the keeper opens the ports itself and sends the messages that are still owed. It cannot help when the
//! power fails. Then the box itself must open the contact.

use crate::ports::{PortOut, Ports};
use std::collections::BTreeMap;
use std::io::{BufRead, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::{Mutex, PoisonError};
use std::thread;
use std::time::Duration;

/// The argument with which the program starts itself as a keeper.
pub const KEEPER_COMMAND: &str = "keep_contacts";
/// How many times the keeper tries to open a port, and how long it waits between tries. The dying program may still hold the
/// port.
const TRIES: u32 = 50;
const BETWEEN: Duration = Duration::from_millis(100);

/// The program's side of the keeper.
#[derive(Debug)]
pub struct ContactKeeper {
    tell: Mutex<Option<ChildStdin>>,
    process: Mutex<Child>,
}

impl ContactKeeper {
    /// Starts the program's own file as a keeper, detached from the terminal that the program was started from.
    ///
    /// # Errors
    /// Why it cannot be started, in words.
    pub fn start(program: &Path) -> Result<ContactKeeper, String> {
        let mut command = Command::new(program);
        command.arg(KEEPER_COMMAND).stdin(Stdio::piped()).stdout(Stdio::null()).stderr(Stdio::null());
        letfall_platform::apart_from_terminal(&mut command);
        let mut process = command
            .spawn()
            .map_err(|e| format!("no process can be started that opens contacts again if this program dies ({e})"))?;
        let tell = process.stdin.take();
        Ok(ContactKeeper { tell: Mutex::new(tell), process: Mutex::new(process) })
    }

    /// A contact is about to be closed. Reports the bytes that open it again, and on which machine port.
    pub fn owes(&self, number: u64, port: &str, end: &[u8]) {
        self.line(&owes_line(number, port, end));
    }

    /// A contact was opened again.
    pub fn paid(&self, number: u64) {
        self.line(&format!("paid {number}\n"));
    }

    /// Whether the keeper is still running.
    pub fn is_alive(&self) -> bool {
        let mut process = self.process.lock().unwrap_or_else(PoisonError::into_inner);
        matches!(process.try_wait(), Ok(None))
    }

    fn line(&self, line: &str) {
        let mut tell = self.tell.lock().unwrap_or_else(PoisonError::into_inner);
        let told = tell.as_mut().map(|pipe| pipe.write_all(line.as_bytes()).and_then(|()| pipe.flush()));
        if told.is_some_and(|told| told.is_err()) {
            // The keeper has died. The run continues, and the screen shows that there is no keeper.
            *tell = None;
        }
    }
}

impl Drop for ContactKeeper {
    fn drop(&mut self) {
        drop(self.tell.lock().unwrap_or_else(PoisonError::into_inner).take());
        // If something is still owed, the keeper continues by itself. We do not wait for it.
        drop(self.process.lock().unwrap_or_else(PoisonError::into_inner).try_wait());
    }
}

fn owes_line(number: u64, port: &str, end: &[u8]) -> String {
    let hex = |bytes: &[u8]| bytes.iter().fold(String::new(), |text, byte| text + &format!("{byte:02x}"));
    format!("owes {number} {} {}\n", hex(port.as_bytes()), hex(end))
}

/// The messages that are owed on a machine port.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Owed {
    port: String,
    end: Vec<u8>,
}

fn unhex(text: &str) -> Option<Vec<u8>> {
    let pairs = text.as_bytes().chunks(2);
    pairs.map(|pair| u8::from_str_radix(std::str::from_utf8(pair).ok().filter(|p| p.len() == 2)?, 16).ok()).collect()
}

/// Runs as the keeper. Reads which contacts are closed and opened until the program is gone, then opens those that are still
/// closed. Returns how many it opened and how many it could not open.
pub fn keep_contacts(told: impl BufRead, ports: &mut dyn Ports) -> (usize, usize) {
    let mut owed: BTreeMap<u64, Owed> = BTreeMap::new();
    for line in told.lines().map_while(Result::ok) {
        let mut words = line.split(' ');
        match (words.next(), words.next().and_then(|n| n.parse().ok())) {
            (Some("owes"), Some(number)) => {
                let port = words.next().and_then(unhex).and_then(|name| String::from_utf8(name).ok());
                if let (Some(port), Some(end)) = (port, words.next().and_then(unhex)) {
                    owed.insert(number, Owed { port, end });
                }
            }
            (Some("paid"), Some(number)) => {
                owed.remove(&number);
            }
            _ => {}
        }
    }
    // A port waits, when it is closed, until its last message has left. So close none before all have been sent.
    let paid: Vec<Box<dyn PortOut>> = owed.values().filter_map(|owed| pay(owed, ports)).collect();
    (paid.len(), owed.len() - paid.len())
}

/// Sends what is owed. Returns the port if that worked.
fn pay(owed: &Owed, ports: &mut dyn Ports) -> Option<Box<dyn PortOut>> {
    (0..TRIES).find_map(|_| {
        let sent = ports.open(&owed.port).ok().and_then(|mut out| out.send(&owed.end).is_ok().then_some(out));
        if sent.is_none() {
            thread::sleep(BETWEEN);
        }
        sent
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ports::{Gone, InputCallback, NoPorts, PortInput};
    use std::sync::Arc;

    /// Which bytes were sent to which port.
    type Sent = Arc<Mutex<Vec<(String, Vec<u8>)>>>;

    #[derive(Clone, Default)]
    struct Fake {
        sent: Sent,
        /// How many times opening fails before it succeeds.
        busy: Arc<Mutex<u32>>,
    }

    struct Wire(String, Fake);

    impl PortOut for Wire {
        fn send(&mut self, bytes: &[u8]) -> Result<(), Gone> {
            self.1.sent.lock().expect("a lock").push((self.0.clone(), bytes.to_vec()));
            Ok(())
        }
    }

    impl Ports for Fake {
        fn outputs(&mut self) -> Result<Vec<String>, String> {
            NoPorts.outputs()
        }
        fn inputs(&mut self) -> Result<Vec<String>, String> {
            NoPorts.inputs()
        }
        fn open(&mut self, name: &str) -> Result<Box<dyn PortOut>, String> {
            let mut busy = self.busy.lock().expect("a lock");
            if *busy > 0 {
                *busy -= 1;
                return Err("in use".to_owned());
            }
            Ok(Box::new(Wire(name.to_owned(), self.clone())))
        }
        fn listen(&mut self, name: &str, heard: InputCallback) -> Result<PortInput, String> {
            NoPorts.listen(name, heard)
        }
    }

    #[test]
    fn what_is_owed_when_the_program_is_gone_is_paid() {
        let mut told = String::new();
        told += &owes_line(1, "Box 1", &[0x80, 60, 64]);
        told += &owes_line(2, "USB MIDI:Büro 2", &[0xc0, 5]);
        told += "paid 1\n";
        told += &owes_line(3, "Box 1", &[0x80, 61, 64]);
        // An unreadable line, then a last line that was cut off because the program was killed.
        told += "what\nowes x y z\nowes 9 zz 00\nowes 4 42";
        let mut ports = Fake { busy: Arc::new(Mutex::new(2)), ..Fake::default() };
        assert_eq!(keep_contacts(told.as_bytes(), &mut ports), (2, 0));
        let sent = ports.sent.lock().expect("a lock").clone();
        assert_eq!(sent, [("USB MIDI:Büro 2".to_owned(), vec![0xc0, 5]), ("Box 1".to_owned(), vec![0x80, 61, 64])]);
    }

    #[test]
    fn nothing_is_sent_when_everything_was_paid() {
        let told = owes_line(1, "Box 1", &[0x80, 60, 64]) + "paid 1\n";
        let mut ports = Fake::default();
        assert_eq!(keep_contacts(told.as_bytes(), &mut ports), (0, 0));
        assert!(ports.sent.lock().expect("a lock").is_empty());
    }
}
