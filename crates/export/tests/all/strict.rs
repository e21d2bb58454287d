//! A strict reader of Standard MIDI Files, written from SMF 1.1 for these tests alone. It shares no code with the writer.

/// An event with its absolute tick; `bytes` is the event as the file means it, status byte included.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Event {
    pub tick: u64,
    pub bytes: Vec<u8>,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct File {
    pub format: u16,
    pub division: u16,
    pub tracks: Vec<Vec<Event>>,
}

struct Reader<'a>(&'a [u8]);

impl<'a> Reader<'a> {
    fn take(&mut self, n: usize) -> &'a [u8] {
        assert!(self.0.len() >= n, "the file ends early");
        let (head, rest) = self.0.split_at(n);
        self.0 = rest;
        head
    }

    fn byte(&mut self) -> u8 {
        self.take(1)[0]
    }

    fn u16(&mut self) -> u16 {
        u16::from_be_bytes(self.take(2).try_into().unwrap())
    }

    fn u32(&mut self) -> u32 {
        u32::from_be_bytes(self.take(4).try_into().unwrap())
    }

    /// A variable-length quantity, at most four bytes and as short as it can be (SMF 1.1, 1.1).
    fn vlq(&mut self) -> u32 {
        let mut value = 0;
        for at in 0..4 {
            let byte = self.byte();
            assert!(!(at == 0 && byte == 0x80), "a quantity with a needless leading byte");
            value = value << 7 | u32::from(byte & 0x7f);
            if byte < 0x80 {
                return value;
            }
        }
        panic!("a quantity of more than four bytes");
    }
}

/// Reads a file and panics at anything that the standard does not allow.
pub fn read(bytes: &[u8]) -> File {
    let mut r = Reader(bytes);
    assert_eq!(r.take(4), b"MThd");
    assert_eq!(r.u32(), 6);
    let (format, count, division) = (r.u16(), r.u16(), r.u16());
    assert!(format == 1 || format == 0 && count == 1);
    let tracks = (0..count).map(|number| track(&mut r, number == 0 || format == 0)).collect();
    assert!(r.0.is_empty(), "bytes after the last track");
    File { format, division, tracks }
}

fn track(r: &mut Reader<'_>, first: bool) -> Vec<Event> {
    assert_eq!(r.take(4), b"MTrk");
    let length = r.u32() as usize;
    let mut r = Reader(r.take(length));
    let (mut tick, mut status, mut events) = (0u64, None, Vec::new());
    loop {
        tick += u64::from(r.vlq());
        let lead = r.0[0];
        let bytes = match lead {
            0xff => {
                status = None; // meta events cancel running status
                let kind = r.take(2)[1];
                let length = r.vlq() as usize;
                let data = r.take(length);
                meta(kind, data, first, tick);
                [&[0xff, kind], data].concat()
            }
            0xf0 => {
                status = None;
                r.byte();
                let length = r.vlq() as usize;
                let data = r.take(length);
                assert_eq!(data.last(), Some(&0xf7), "a sysex that does not end");
                assert!(data[..data.len() - 1].iter().all(|b| *b < 0x80), "a status byte inside a sysex");
                [&[0xf0], data].concat()
            }
            0x80..=0xef => {
                status = Some(r.byte());
                channel(&mut r, status.unwrap())
            }
            0..=0x7f => channel(&mut r, status.expect("running status with nothing running")),
            _ => panic!("status {lead:02X} has no place in a file"),
        };
        let end = bytes == [0xff, 0x2f];
        events.push(Event { tick, bytes });
        if end {
            assert!(r.0.is_empty(), "events after the end of the track");
            return events;
        }
    }
}

fn channel(r: &mut Reader<'_>, status: u8) -> Vec<u8> {
    let data = r.take(if matches!(status & 0xf0, 0xc0 | 0xd0) { 1 } else { 2 });
    assert!(data.iter().all(|b| *b < 0x80), "a data byte over 7F");
    [&[status], data].concat()
}

fn meta(kind: u8, data: &[u8], first: bool, tick: u64) {
    let conductor = |what| assert!(first, "{what} outside the first track");
    match kind {
        0x01..=0x0f => assert!(std::str::from_utf8(data).is_ok_and(|t| !t.contains(char::is_control)), "text"),
        0x2f => assert!(data.is_empty()),
        0x51 => {
            assert_eq!(data.len(), 3);
            assert!(data != [0, 0, 0], "a tempo of nothing");
            conductor("tempo");
        }
        0x54 => {
            assert_eq!((data.len(), tick), (5, 0));
            assert!(data[0] & 0x1f < 24 && data[1] < 60 && data[2] < 60 && data[3] < 30 && data[4] < 100);
            conductor("SMPTE offset");
        }
        0x58 => {
            assert_eq!(data.len(), 4);
            assert!(data[0] > 0 && data[1] <= 6 && data[2] > 0 && data[3] == 8);
            conductor("time signature");
        }
        _ => panic!("meta event {kind:02X} is none of ours"),
    }
    if kind == 3 {
        assert_eq!(tick, 0, "a track name after time 0");
    }
}

/// The time of a tick in microseconds by the file's own tempo events, computed exactly (whole microseconds times division).
pub fn micros(file: &File, tick: u64) -> f64 {
    let division = u64::from(file.division);
    let (mut at, mut tempo, mut sum) = (0u64, 500_000u64, 0u128);
    for event in &file.tracks[0] {
        if let [0xff, 0x51, a, b, c] = event.bytes[..]
            && event.tick <= tick
        {
            sum += u128::from(event.tick - at) * u128::from(tempo);
            (at, tempo) = (event.tick, u64::from(a) << 16 | u64::from(b) << 8 | u64::from(c));
        }
    }
    (sum + u128::from(tick - at) * u128::from(tempo)) as f64 / division as f64
}
