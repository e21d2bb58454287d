//! Layout of the JSON: the outer five levels are spread over lines, anything deeper stays on one line.

use serde_json::ser::Formatter;
use std::io::{Result, Write};

/// How many levels are spread over lines: file, show, list, service, cue list.
const SPREAD: usize = 5;

/// A formatter that puts each list entry of the show, and each cue, on a line of its own.
#[derive(Default)]
pub(super) struct Lines {
    depth: usize,
    filled: bool,
}

impl Lines {
    fn line<W: ?Sized + Write>(&self, to: &mut W) -> Result<()> {
        to.write_all(b"\n")?;
        to.write_all(&b"          "[..self.depth.min(SPREAD) * 2])
    }

    fn begin<W: ?Sized + Write>(&mut self, to: &mut W, bracket: &[u8]) -> Result<()> {
        self.depth += 1;
        self.filled = false;
        to.write_all(bracket)
    }

    fn end<W: ?Sized + Write>(&mut self, to: &mut W, bracket: &[u8]) -> Result<()> {
        let spread = self.depth <= SPREAD && self.filled;
        self.depth -= 1;
        self.filled = true;
        if spread {
            self.line(to)?;
        }
        to.write_all(bracket)
    }

    fn entry<W: ?Sized + Write>(&mut self, to: &mut W, first: bool) -> Result<()> {
        self.filled = true;
        if self.depth <= SPREAD {
            if !first {
                to.write_all(b",")?;
            }
            self.line(to)
        } else if first {
            Ok(())
        } else {
            to.write_all(b", ")
        }
    }
}

impl Formatter for Lines {
    fn begin_array<W: ?Sized + Write>(&mut self, to: &mut W) -> Result<()> {
        self.begin(to, b"[")
    }

    fn end_array<W: ?Sized + Write>(&mut self, to: &mut W) -> Result<()> {
        self.end(to, b"]")
    }

    fn begin_array_value<W: ?Sized + Write>(&mut self, to: &mut W, first: bool) -> Result<()> {
        self.entry(to, first)
    }

    fn begin_object<W: ?Sized + Write>(&mut self, to: &mut W) -> Result<()> {
        self.begin(to, b"{")
    }

    fn end_object<W: ?Sized + Write>(&mut self, to: &mut W) -> Result<()> {
        self.end(to, b"}")
    }

    fn begin_object_key<W: ?Sized + Write>(&mut self, to: &mut W, first: bool) -> Result<()> {
        self.entry(to, first)
    }

    fn begin_object_value<W: ?Sized + Write>(&mut self, to: &mut W) -> Result<()> {
        to.write_all(b": ")
    }
}
