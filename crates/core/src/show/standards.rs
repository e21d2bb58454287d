//! Standards that people may have to follow, by number and title only. Local codes and competent people decide which of them
//! apply, and in which edition.

/// One document: its number, and what it is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Standard {
    /// Number or name.
    pub number: &'static str,
    /// What it is about.
    pub about: &'static str,
}

/// Documents to ask about (check-values 13; titles mostly second-hand, editions uncertain).
pub const STANDARDS: [Standard; 12] = [
    Standard { number: "ANSI E1.6-1 to -4", about: "powered hoists and chain hoists in entertainment" },
    Standard { number: "ANSI E1.4-1 to -3", about: "counterweight, statically suspended and manual rigging" },
    Standard { number: "ANSI E1.47", about: "inspection of entertainment rigging" },
    Standard { number: "EN 17206", about: "stage machinery and its controls" },
    Standard {
        number: "BS 7905-1, BS 7906-1",
        about: "lifting equipment for performance (reported replaced by EN 17206)",
    },
    Standard { number: "EN 17115", about: "aluminium and steel trusses" },
    Standard { number: "BS 7909", about: "temporary electrical systems for entertainment" },
    Standard {
        number: "NFPA 70 (NEC), articles 518, 520, 525, 725",
        about: "electricity in assembly places and theatres",
    },
    Standard {
        number: "NFPA 701; DIN 4102-1, EN 13501-1, EN 13773, BS 5867-2",
        about: "fabrics and fire; the classes are not equal",
    },
    Standard { number: "OSHA 29 CFR 1910.184, 1910.179, 1926.1425", about: "keeping clear of suspended loads" },
    Standard { number: "IEC 62471-5, IEC 60825-1", about: "light hazard of projectors" },
    Standard {
        number: "ISO 13850, IEC 60204-1, NFPA 79",
        about: "emergency stop; a released fabric cannot be stopped",
    },
];
