//! `cargo xtask package`: a Debian package and a plain archive, each with the program, its desktop entry, icon, file type, manual page and
//! what shells need to complete its commands.

use crate::shell::{Done, ask, cargo, command, see, target, top, works};
use crate::{setup, skips};
use std::collections::BTreeSet;
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// What is loaded by the program itself and therefore not found among its libraries: drawing, windows, the system's file dialogs.
const LOADED_LATER: &str = "libxkbcommon0, libxkbcommon-x11-0, libwayland-client0, libgl1, libvulkan1";

/// Builds the program and packs it. `--profile NAME` names the profile to build with; `--check` packs what the tests were built with, and
/// tries it.
pub fn run(rest: &[String]) -> Done {
    let profile = match rest {
        [check] if check == "--check" => return test(),
        [] => "measured",
        [option, name] if option == "--profile" => name.as_str(),
        _ => return Err("cargo xtask package takes nothing but --profile NAME or --check".to_owned()),
    };
    setup::for_editor()?;
    see(&mut cargo(&["build", "--package", "letfall", "--profile", profile]))?;
    let folder = if profile == "dev" { "debug" } else { profile };
    if cfg!(target_os = "macos") {
        println!("made {}", for_mac(&target().join(folder).join("letfall"))?.display());
        return Ok(());
    }
    for file in pack(&target().join(folder).join("letfall"))? {
        println!("made {}", file.display());
    }
    Ok(())
}

/// Packs the program that the tests were built with, installs the package into a folder of its own, runs what was installed, and looks at
/// everything else with the tools of the system.
pub fn test() -> Done {
    if !works("dpkg-deb", &["--version"]) || !works("dpkg", &["--version"]) {
        return skips::note("the Debian package", "this machine has no dpkg");
    }
    let files = pack(&target().join("debug/letfall"))?;
    let root = target().join("package/installed");
    fresh(&root)?;
    fresh(&root.join("var/lib/dpkg"))?;
    for (name, folder) in
        [("status", false), ("available", false), ("info", true), ("updates", true), ("triggers", true)]
    {
        let path = root.join("var/lib/dpkg").join(name);
        let made = if folder { fs::create_dir_all(&path) } else { fs::write(&path, "") };
        made.map_err(|e| format!("{}: {e}", path.display()))?;
    }
    // What it depends on is not in that folder, but on the machine itself.
    let root_option = format!("--root={}", root.display());
    let deb = text(&files[0]);
    see(&mut command(
        "dpkg",
        &[&root_option, "--force-not-root", "--force-depends", "--log=/dev/null", "--install", &deb],
    ))?;
    let program = root.join("usr/bin/letfall");
    let version = ask(Command::new(&program).arg("--version"))?;
    let checked = ask(Command::new(&program).args(["check", "demo-shows/lantern-night.letfall"]).current_dir(top()))?;
    if !version.starts_with("letfall ") || !checked.contains("Not checked:") {
        return Err(format!("what was installed does not run: {version}{checked}"));
    }
    // The archive holds the same program.
    let unpacked = target().join("package/unpacked");
    fresh(&unpacked)?;
    see(&mut command("tar", &["-xzf", &text(&files[1]), "-C", &text(&unpacked)]))?;
    let inside = unpacked.join(stem(&version)).join("bin/letfall");
    if ask(Command::new(&inside).arg("--version"))? != version {
        return Err(format!("{} is another program", inside.display()));
    }
    entries(&root)
}

/// Looks at desktop entry, file type, manual page and completions as the system does.
fn entries(root: &Path) -> Done {
    let share = root.join("usr/share");
    let there = [
        "applications/letfall.desktop",
        "icons/hicolor/scalable/apps/letfall.svg",
        "mime/packages/letfall.xml",
        "man/man1/letfall.1.gz",
        "bash-completion/completions/letfall",
        "zsh/vendor-completions/_letfall",
        "fish/vendor_completions.d/letfall.fish",
        "doc/letfall/copyright",
        "doc/letfall/README.md",
    ];
    for file in there {
        if fs::metadata(share.join(file)).map_or(0, |file| file.len()) == 0 {
            return Err(format!("the package lacks {file}"));
        }
    }
    if works("update-mime-database", &["-v"]) {
        see(&mut command("update-mime-database", &[&text(&share.join("mime"))]))?;
        let globs = fs::read_to_string(share.join("mime/globs")).unwrap_or_default();
        if !globs.contains("application/x-letfall-show:*.letfall") {
            return Err("the file type is not known after installing".to_owned());
        }
    } else {
        skips::note("the file type of the package", "this machine has no update-mime-database")?;
    }
    if works("desktop-file-validate", &["--help"]) {
        see(&mut command("desktop-file-validate", &[&text(&share.join("applications/letfall.desktop"))]))?;
    } else {
        skips::note("the desktop entry of the package", "this machine has no desktop-file-validate")?;
    }
    if works("man", &["--version"]) {
        let page = text(&share.join("man/man1/letfall.1.gz"));
        let said = ask(command("man", &["--warnings", "--local-file", &page])
            .env("MANWIDTH", "100")
            .env("MAN_KEEP_FORMATTING", "0"))?;
        if !said.contains("letfall") || !said.contains("import") {
            return Err("the manual page says nothing".to_owned());
        }
    } else {
        skips::note("the manual page of the package", "this machine has no man")?;
    }
    let complete = text(&share.join("bash-completion/completions/letfall"));
    see(&mut command("bash", &["-n", &complete]))
}

/// Packs a program. Returns the package and the archive.
fn pack(program: &Path) -> Done<[PathBuf; 2]> {
    let version = ask(Command::new(program).arg("--version"))?;
    let work = target().join("package/tree");
    fresh(&work)?;
    let usr = work.join("usr");
    copy(program, &usr.join("bin/letfall"))?;
    if works("strip", &["--version"]) {
        see(&mut command("strip", &[&text(&usr.join("bin/letfall"))]))?;
    }
    let share = usr.join("share");
    let assets = top().join("assets/package");
    copy(&assets.join("letfall.desktop"), &share.join("applications/letfall.desktop"))?;
    copy(&assets.join("letfall.svg"), &share.join("icons/hicolor/scalable/apps/letfall.svg"))?;
    copy(&assets.join("letfall.xml"), &share.join("mime/packages/letfall.xml"))?;
    for (shell, file) in [
        ("bash", "bash-completion/completions/letfall"),
        ("zsh", "zsh/vendor-completions/_letfall"),
        ("fish", "fish/vendor_completions.d/letfall.fish"),
    ] {
        write(&share.join(file), ask(Command::new(program).args(["completions", shell]))?.as_bytes())?;
    }
    let page = ask(Command::new(program).arg("man"))?;
    write(&share.join("man/man1/letfall.1.gz"), &zipped(page.as_bytes())?)?;
    let read = |name: &str| fs::read(top().join(name)).map_err(|e| format!("{name}: {e}"));
    write(&share.join("doc/letfall/README.md"), &read("README.md")?)?;
    let licences = [read("LICENSE-MIT")?, b"\n\nOr, at your option:\n\n".to_vec(), read("LICENSE-APACHE")?].concat();
    write(&share.join("doc/letfall/copyright"), &licences)?;
    let made = target().join("package");
    let archive = archive(&work, &made, &stem(&version))?;
    Ok([debian(&work, &made, number(&version))?, archive])
}

/// A zip for Windows: one program that needs nothing beside it, licences, demo shows and a short READ ME. Returns where it is.
pub fn for_windows(program: &Path) -> Done<PathBuf> {
    let work = target().join("package/windows");
    let inside = work.join("letfall");
    fresh(&work)?;
    copy(program, &inside.join("letfall.exe"))?;
    see(&mut command("x86_64-w64-mingw32-strip", &[&text(&inside.join("letfall.exe"))]))?;
    for licence in ["LICENSE-MIT", "LICENSE-APACHE"] {
        copy(&top().join(licence), &inside.join(licence).with_extension("txt"))?;
    }
    copy(&top().join("assets/package/READ ME.txt"), &inside.join("READ ME.txt"))?;
    for show in ["lantern-night", "first-opener", "three-houses"] {
        let name = Path::new("demo-shows").join(show).with_extension("letfall");
        copy(&top().join(&name), &inside.join(&name))?;
    }
    let out = target().join("package/letfall-windows-x86_64.zip");
    let python = "import shutil, sys; shutil.make_archive(sys.argv[1][:-4], 'zip', sys.argv[2])";
    see(&mut command("python3", &["-c", python, &text(&out), &text(&work)]))?;
    Ok(out)
}

/// An app folder for macOS, not signed.
fn for_mac(program: &Path) -> Done<PathBuf> {
    let version = ask(Command::new(program).arg("--version"))?;
    let app = target().join("package/Letfall.app");
    fresh(&app)?;
    copy(program, &app.join("Contents/MacOS/letfall"))?;
    copy(&top().join("assets/package/letfall.icns"), &app.join("Contents/Resources/letfall.icns"))?;
    write(&app.join("Contents/Info.plist"), property_list(number(&version)).as_bytes())?;
    Ok(app)
}

/// What macOS wants to know of an app: name, version, icon, and that it opens `.letfall` files.
fn property_list(version: &str) -> String {
    let entries = [
        ("CFBundleExecutable", "letfall"),
        ("CFBundleIconFile", "letfall"),
        ("CFBundleIdentifier", "org.letfall.letfall"),
        ("CFBundleName", "Letfall"),
        ("CFBundlePackageType", "APPL"),
        ("CFBundleShortVersionString", version),
        ("CFBundleVersion", version),
        ("LSMinimumSystemVersion", "11.0"),
    ];
    let entries: Vec<String> =
        entries.iter().map(|(key, value)| format!("  <key>{key}</key><string>{value}</string>\n")).collect();
    let entries = entries.concat();
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<!DOCTYPE plist PUBLIC \"-//Apple//DTD PLIST 1.0//EN\" \
         \"http://www.apple.com/DTDs/PropertyList-1.0.dtd\">\n<plist version=\"1.0\">\n<dict>\n{entries}  \
         <key>NSHighResolutionCapable</key><true/>\n  <key>CFBundleDocumentTypes</key>\n  <array><dict>\n    \
         <key>CFBundleTypeName</key><string>Letfall show</string>\n    <key>CFBundleTypeRole</key><string>Editor</string>\n    \
         <key>CFBundleTypeExtensions</key><array><string>letfall</string></array>\n  </dict></array>\n</dict>\n</plist>\n"
    )
}

/// "0.1.0" from what the program says of itself.
fn number(version: &str) -> &str {
    version.trim().rsplit(' ').next().unwrap_or("0")
}

/// "letfall-0.1.0" from what the program says of itself.
fn stem(version: &str) -> String {
    version.trim().replace(' ', "-")
}

/// A Debian package of a tree.
fn debian(work: &Path, into: &Path, version: &str) -> Done<PathBuf> {
    let architecture = ask(&mut command("dpkg", &["--print-architecture"]))?;
    let architecture = architecture.trim();
    let kilobytes: u64 = files(work)?.iter().map(|file| fs::metadata(file).map_or(0, |m| m.len()).div_ceil(1024)).sum();
    let depends = needed(&work.join("usr/bin/letfall"))?;
    let control = format!(
        "Package: letfall\nVersion: {version}\nArchitecture: {architecture}\nMaintainer: The Letfall engineers <letfall@localhost>\n\
         Installed-Size: {kilobytes}\nDepends: {depends}\nRecommends: {LOADED_LATER}\nSuggests: xdg-desktop-portal\nSection: sound\n\
         Priority: optional\nDescription: planner for synchronized reveal moments\n \
         Holds media, lighting presets, release triggers and outputs on one song-relative clock, works back from the\n \
         beat to when each message must be sent, checks the plan, exports a MIDI file, prints sheets to call from and\n \
         rehearses live over MIDI.\n"
    );
    write(&work.join("DEBIAN/control"), control.as_bytes())?;
    let out = into.join(format!("letfall_{version}_{architecture}.deb"));
    let mut build = command("dpkg-deb", &["--root-owner-group", "--build", &text(work), &text(&out)]);
    // The same tree gives the same package.
    see(build.env("SOURCE_DATE_EPOCH", "0"))?;
    Ok(out)
}

/// The packages that hold the libraries that a program is linked with.
fn needed(program: &Path) -> Done<String> {
    let linked = ask(Command::new("ldd").arg(program))?;
    let mut packages = BTreeSet::new();
    for line in linked.lines() {
        let Some(path) = line.split_whitespace().find(|word| word.starts_with('/')) else { continue };
        let path = fs::canonicalize(path).unwrap_or_else(|_| path.into());
        let found = ask(Command::new("dpkg").arg("--search").arg(&path));
        // A merged /usr knows some files by their old place only.
        let old = path.strip_prefix("/usr").map(|rest| Path::new("/").join(rest)).unwrap_or_default();
        let found = found.or_else(|_| ask(Command::new("dpkg").arg("--search").arg(old)))?;
        packages.extend(found.split(':').next().map(str::to_owned));
    }
    if packages.is_empty() {
        Err("no library of the program is known to dpkg".to_owned())
    } else {
        Ok(packages.into_iter().collect::<Vec<_>>().join(", "))
    }
}

/// A plain archive: the same files, to be unpacked anywhere.
fn archive(work: &Path, into: &Path, name: &str) -> Done<PathBuf> {
    let kind = format!("{}-{}", std::env::consts::OS, std::env::consts::ARCH);
    let out = into.join(format!("{name}-{kind}.tar.gz"));
    let rename = format!("--transform=s,^usr,{name},");
    let args = [
        "--sort=name",
        "--owner=0",
        "--group=0",
        "--numeric-owner",
        "--mtime=@0",
        &rename,
        "-C",
        &text(work),
        "-czf",
        &text(&out),
        "usr",
    ]
    .map(str::to_owned);
    let args: Vec<&str> = args.iter().map(String::as_str).collect();
    see(&mut command("tar", &args))?;
    Ok(out)
}

fn zipped(bytes: &[u8]) -> Done<Vec<u8>> {
    let fail = |e: std::io::Error| format!("gzip: {e}");
    let mut child =
        Command::new("gzip").args(["-9n"]).stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().map_err(fail)?;
    // A manual page fits into the pipe's buffers on the way in and out only in parts, so it is written beside.
    let mut input = child.stdin.take().ok_or("gzip takes no input")?;
    let owned = bytes.to_vec();
    let writer = std::thread::spawn(move || input.write_all(&owned));
    let out = child.wait_with_output().map_err(fail)?;
    writer.join().map_err(|_| "gzip stopped reading".to_owned())?.map_err(fail)?;
    if out.status.success() { Ok(out.stdout) } else { Err("gzip failed".to_owned()) }
}

fn text(path: &Path) -> String {
    path.to_string_lossy().into_owned()
}

/// An empty folder.
pub fn fresh(folder: &Path) -> Done {
    match fs::remove_dir_all(folder) {
        Err(why) if why.kind() != std::io::ErrorKind::NotFound => return Err(format!("{}: {why}", folder.display())),
        _ => {}
    }
    fs::create_dir_all(folder).map_err(|e| format!("{}: {e}", folder.display()))
}

fn write(path: &Path, bytes: &[u8]) -> Done {
    let fail = |e: std::io::Error| format!("{}: {e}", path.display());
    path.parent().map_or(Ok(()), fs::create_dir_all).map_err(fail)?;
    fs::write(path, bytes).map_err(fail)
}

/// Copies a file with its permissions.
fn copy(from: &Path, to: &Path) -> Done {
    to.parent().map_or(Ok(()), fs::create_dir_all).map_err(|e| format!("{}: {e}", to.display()))?;
    fs::copy(from, to).map(drop).map_err(|e| format!("{} to {}: {e}", from.display(), to.display()))
}

/// All files below a folder.
fn files(folder: &Path) -> Done<Vec<PathBuf>> {
    let mut all = Vec::new();
    for entry in fs::read_dir(folder).map_err(|e| format!("{}: {e}", folder.display()))?.flatten() {
        let path = entry.path();
        if path.is_dir() { all.extend(files(&path)?) } else { all.push(path) }
    }
    Ok(all)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Python's plistlib reads it as it is meant.
    #[test]
    fn a_property_list_is_read_back() {
        let file = std::env::temp_dir().join(format!("letfall-{}.plist", std::process::id()));
        fs::write(&file, property_list("1.2.3")).expect("a file");
        let read = "import plistlib, sys; p = plistlib.load(open(sys.argv[1], 'rb')); \
                    print(p['CFBundleShortVersionString'], p['CFBundleExecutable'], p['CFBundleDocumentTypes'][0]['CFBundleTypeExtensions'])";
        let said = ask(&mut command("python3", &["-c", read, &text(&file)]));
        fs::remove_file(&file).expect("it is there");
        assert_eq!(said.as_deref(), Ok("1.2.3 letfall ['letfall']\n"));
    }
}
