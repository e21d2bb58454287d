//! A virtual display for the test and the benchmark of the real window.

use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};

/// Starts Xvfb with a free display number. Returns the server, which the caller must end, and the name of its display.
pub fn start() -> (Child, String) {
    let mut server = Command::new("Xvfb")
        .args(["-displayfd", "1", "-screen", "0", "1440x900x24", "-nolisten", "tcp"])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("Xvfb, for want of a display");
    let mut line = String::new();
    BufReader::new(server.stdout.take().unwrap()).read_line(&mut line).unwrap();
    (server, format!(":{}", line.trim()))
}
