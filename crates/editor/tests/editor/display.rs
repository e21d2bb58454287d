//! A virtual display for the test and the benchmark of the real window.

#![allow(dead_code)] // each program uses some of it

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};

/// Starts Xvfb with a free display number. Returns the server, which the caller must end, and the name of its display. What the screen
/// shows is kept in a folder, if one is given; see [`picture`].
pub fn start(kept: Option<&Path>) -> (Child, String) {
    let mut xvfb = Command::new("Xvfb");
    if let Some(folder) = kept {
        xvfb.arg("-fbdir").arg(folder);
    }
    let mut server = xvfb
        .args(["-displayfd", "1", "-screen", "0", "1440x900x24", "-nolisten", "tcp"])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("Xvfb, for want of a display");
    let mut line = String::new();
    BufReader::new(server.stdout.take().unwrap()).read_line(&mut line).unwrap();
    (server, format!(":{}", line.trim()))
}

/// What a screen shows now: width, height, and red, green and blue of each point, by rows. The file is an X window dump (XWDFile.h): numbers
/// of four bytes, the greatest first, then twelve bytes for each colour, then the points with blue first.
pub fn picture(kept: &Path) -> (usize, usize, Vec<[u8; 3]>) {
    let dump = std::fs::read(kept.join("Xvfb_screen0")).unwrap();
    let number = |at: usize| u32::from_be_bytes(dump[at * 4..][..4].try_into().unwrap()) as usize;
    let (header, wide, high, row, colours) = (number(0), number(4), number(5), number(12), number(19));
    let from = header + colours * 12;
    let points = (0..high).flat_map(|y| dump[from + y * row..][..wide * 4].chunks(4).map(|p| [p[2], p[1], p[0]]));
    (wide, high, points.collect())
}
