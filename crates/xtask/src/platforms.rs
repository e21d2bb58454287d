//! `cargo xtask platforms`: what can be tried of Windows and macOS on a Debian machine. The program for Windows is built with a cross
//! compiler and run under Wine, by the same tests as that for Linux; for macOS everything is type-checked.
//!
//! The standard library for these systems is built from the sources that Debian's security archive has beside a compiler of the same
//! version (`rustc-web`, `rust-web-src`), so nothing is fetched but what cargo fetches anyway.

use crate::phases::Phases;
use crate::shell::{Done, ask, cargo, command, see, target, top};
use crate::test::Tests;
use crate::{package, setup, skips};
use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

const WINDOWS: &str = "x86_64-pc-windows-gnu";
const MACS: [(&str, &str); 2] = [("macOS, arm64", "aarch64-apple-darwin"), ("macOS, x86_64", "x86_64-apple-darwin")];
/// The compiler and its library's sources come from the same Debian packages.
const RUSTC: &str = "/usr/bin/rustc";
/// Has cargo build the standard library, which it does only when it is allowed what is not settled yet.
const BUILD_STD: &str = "-Zbuild-std=std,panic_abort";
const BOOTSTRAP: (&str, &str) = ("RUSTC_BOOTSTRAP", "1");
/// Debian puts it beside the path.
const WINE: &str = "/usr/lib/wine/wine64";

/// Builds, checks and tries everything; the closing line comes last.
pub fn run() -> Done {
    let mut phases = Phases::default();
    phases.step("set-up", setup::for_platforms)?;
    skips::clear()?;
    let mut tests = Tests::default();
    for (words, triple) in MACS {
        phases.step(words, || see(&mut for_mac(triple)))?;
        tests.passed += 1;
    }
    let program = phases.step("the program for Windows", for_windows)?;
    tests.passed += 1;
    let wrapper = wrapper(&program)?;
    let demo = |shows: &mut Command| see(shows.args(["demo", "demo-shows"]).current_dir(top()));
    phases.step("the demo shows, rendered by it", || demo(&mut Command::new(&wrapper)))?;
    phases.step("tests of the platform module, sound and MIDI under Wine", || {
        // The tests stand in a folder below that of the program, and look for the shim beside themselves.
        shim(&target().join(WINDOWS).join("debug/deps"))?;
        let packages = ["--package", "letfall-platform", "--package", "letfall-sound", "--package", "letfall-live"];
        let parts = ["--lib", "--test", "system_device", "--test", "system_ports", "--no-fail-fast"];
        under_wine(&mut tests, &[&packages[..], &parts].concat(), &[])?;
        // Here nothing plays, which is told in a sentence; with a sound server it does.
        let heard = ["--package", "letfall-sound", "--test", "system_device"];
        with_sound(|server| {
            let variables = [("PULSE_SERVER", server), ("LETFALL_HAS_SOUND", OsStr::new("1"))];
            under_wine(&mut tests, &heard, &variables)
        })
    })?;
    phases.step("whole-program tests under Wine", || {
        let whole = ["program", "handing_over", "bends", "hard_paths", "kept_exports"];
        let shell = wrapper_of("shell", "cmd.exe")?;
        let variables = [("LETFALL_PROGRAM", wrapper.as_os_str()), ("LETFALL_SHELL", shell.as_os_str())];
        tests.run(&tests_of(&whole), &variables)
    })?;
    phases.step("the window under Wine", || {
        let shell = wrapper_of("shell", "cmd.exe")?;
        let variables = [("LETFALL_PROGRAM", wrapper.as_os_str()), ("LETFALL_SHELL", shell.as_os_str())];
        tests.run(&tests_of(&["window"]), &variables)
    })?;
    phases.step("the zip", || {
        let zip = package::for_windows(&program)?;
        try_zip(&zip)
    })?;
    tests.passed += 1;
    phases.tell();
    tests.close()
}

/// Builds tests for Windows and runs them under Wine.
fn under_wine(tests: &mut Tests, which: &[&str], more: &[(&str, &OsStr)]) -> Done {
    let any = wrapper_of("any", "")?;
    let args = [&["test", BUILD_STD, "--target", WINDOWS][..], which].concat();
    let mut variables = vec![
        (BOOTSTRAP.0, OsStr::new(BOOTSTRAP.1)),
        ("RUSTC", OsStr::new(RUSTC)),
        ("CARGO_TARGET_X86_64_PC_WINDOWS_GNU_RUNNER", any.as_os_str()),
    ];
    variables.extend(more);
    tests.run(&args, &variables)
}

/// Does something while a sound server runs whose only output plays to nobody. It gets the server's address.
fn with_sound(act: impl FnOnce(&OsStr) -> Done) -> Done {
    let folder = target().join("wine/sound");
    package::fresh(&folder)?;
    let socket = folder.join("socket");
    let listens = format!("module-native-protocol-unix socket={} auth-anonymous=1", socket.display());
    let mut server = command("pulseaudio", &["-n", "--daemonize=no", "--exit-idle-time=-1", "-L", "module-null-sink"]);
    server.args(["-L", &listens]).env("XDG_RUNTIME_DIR", &folder).env("HOME", &folder);
    let running = server.stdout(Stdio::null()).stderr(Stdio::null()).spawn();
    let mut running = running.map_err(|e| format!("pulseaudio cannot be started: {e}"))?;
    let there = (0..100).any(|_| {
        std::thread::sleep(std::time::Duration::from_millis(100));
        socket.exists()
    });
    let address = format!("unix:{}", socket.display());
    let done = if there { act(OsStr::new(&address)) } else { Err("pulseaudio opens no socket".to_owned()) };
    drop(running.kill());
    drop(running.wait());
    done
}

fn tests_of<'a>(names: &[&'a str]) -> Vec<&'a str> {
    let mut args = vec!["test", "--no-fail-fast", "--package", "letfall"];
    args.extend(names.iter().flat_map(|name| ["--test", *name]));
    args
}

/// A cargo command that builds the standard library for another system too; warnings of our own crates are errors.
fn for_system(args: &[&str], triple: &str) -> Command {
    let mut build = cargo(args);
    build.args([BUILD_STD, "--package", "letfall", "--target", triple]);
    // Warnings as errors by cargo itself: flags to the compiler would build everybody's crates anew.
    build.args(["-Zwarnings", "--config", "build.warnings=\"deny\""]);
    build.env(BOOTSTRAP.0, BOOTSTRAP.1).env("RUSTC", RUSTC);
    build
}

fn for_mac(triple: &str) -> Command {
    let mut check = for_system(&["check"], triple);
    // One dependency assembles a file. Nothing is linked, so the system's own kit is not asked for anything.
    let arch = if triple.starts_with("aarch64") { "arm64" } else { "x86_64" };
    let under = triple.replace('-', "_");
    check.env(format!("CC_{under}"), "clang").env(format!("AR_{under}"), "llvm-ar");
    check.env(format!("CFLAGS_{under}"), format!("--target={arch}-apple-macos11")).env("SDKROOT", "/");
    check
}

fn for_windows() -> Done<PathBuf> {
    see(&mut for_system(&["build"], WINDOWS))?;
    let folder = target().join(WINDOWS).join("debug");
    shim(&folder)?;
    Ok(folder.join("letfall.exe"))
}

/// This Wine (8.0) lacks the library from which Rust takes random bytes. One that passes the call on to an older function is laid beside
/// the program, for tests only.
fn shim(folder: &Path) -> Done {
    let source = top().join("tests/assets/prng.c");
    let made = folder.join("bcryptprimitives.dll");
    let (source, made) = (source.to_string_lossy(), made.to_string_lossy());
    see(&mut command("x86_64-w64-mingw32-gcc", &["-O2", "-shared", "-o", &made, &source, "-ladvapi32"]))
}

/// A program for Linux that runs the one for Windows, so that tests start it like any other.
fn wrapper(program: &Path) -> Done<PathBuf> {
    let path = wrapper_of("letfall", &program.to_string_lossy())?;
    // The first start makes Wine's own folders, which takes a while.
    see(Command::new(&path).arg("--version"))?;
    Ok(path)
}

/// The same for any program that Wine knows; for none, one that takes the program as its first argument.
fn wrapper_of(name: &str, program: &str) -> Done<PathBuf> {
    let folder = target().join("wine");
    let path = folder.join(name);
    let lines = format!(
        "#!/bin/sh\nexport WINEPREFIX=\"{}\" WINEDEBUG=-all WINEDLLOVERRIDES=mscoree,mshtml=\nexec {WINE} {} \"$@\"\n",
        folder.join("prefix").display(),
        if program.is_empty() { String::new() } else { format!("\"{program}\"") }
    );
    let fail = |e: std::io::Error| format!("{}: {e}", path.display());
    fs::create_dir_all(&folder).and_then(|()| fs::write(&path, lines)).map_err(fail)?;
    see(&mut command("chmod", &["+x", &path.to_string_lossy()]))?;
    Ok(path)
}

/// Unpacks the zip into a folder with a space in its name, and tries what is in it.
fn try_zip(zip: &Path) -> Done {
    let folder = target().join("wine/un packed");
    package::fresh(&folder)?;
    let python = "import sys, zipfile; zipfile.ZipFile(sys.argv[1]).extractall(sys.argv[2])";
    see(&mut command("python3", &["-c", python, &zip.to_string_lossy(), &folder.to_string_lossy()]))?;
    let inside = folder.join("letfall");
    shim(&inside)?;
    let program = wrapper_of("unpacked", &inside.join("letfall.exe").to_string_lossy())?;
    // As its READ ME says: first the recordings of the demo shows.
    see(Command::new(&program).args(["demo", "demo-shows"]).current_dir(&inside))?;
    let checked = ask(Command::new(program).args(["check", "demo-shows\\lantern-night.letfall"]).current_dir(&inside))?;
    if checked.contains("No problems found") { Ok(()) } else { Err(format!("what was unpacked says: {checked}")) }
}
