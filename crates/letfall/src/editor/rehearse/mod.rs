//! Rehearse: the schedule is sent while the guide plays, releases stay locked until somebody holds them open.

mod after;
mod awake;
pub mod board;
mod record;
pub mod run;

use super::document::{Derived, Document};
use super::listen::Listen;
use super::theme::{Theme, bold};
use crate::machine::Machine;
use after::After;
use awake::Awake;
use board::Moment;
use egui::{FontId, Key, RichText, Ui};
use letfall_core::schedule::{Breath, breaths, calls};
use letfall_core::time::SongTime;
use letfall_live::{
    Clocks as _, Command, Follow, Follower, Input, Mode, Ports, Programme, Runner, Says, SyncPlan, SystemClocks,
    SystemPorts,
};
use record::Recorder;
use run::Run;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

type Wake = Arc<dyn Fn() + Send + Sync>;

/// The key that is held to arm.
const ARM: Key = Key::A;

/// The Rehearse screen.
#[allow(clippy::struct_excessive_bools)] // each is a box to tick
pub struct Rehearse {
    /// Where ports come from.
    pub ports: Box<dyn Fn() -> Box<dyn Ports>>,
    /// The run, once somebody made ready for one.
    pub run: Option<Run>,
    /// Who holds releases open.
    pub holder: String,
    chase: bool,
    looped: bool,
    with_guide: bool,
    timecode: bool,
    clock: bool,
    window: bool,
    folder: PathBuf,
    machine: Machine,
    /// The machine's ports, when they were last looked for.
    outputs: Vec<String>,
    inputs: Vec<String>,
    looked: Option<String>,
    follow: Follow,
    input: Option<Input>,
    follower: Option<Arc<Mutex<Follower>>>,
    recorder: Recorder,
    holding: Option<u16>,
    followed: f64,
    awake: Option<Awake>,
    after: Option<After>,
    /// What is said in the schedule that is on the board: worked out once for it.
    said: Option<(Arc<Derived>, Vec<Breath>)>,
}

impl Rehearse {
    /// With what this machine remembers in a folder.
    pub fn new(folder: PathBuf) -> Rehearse {
        Rehearse {
            ports: Box::new(|| Box::new(SystemPorts)),
            run: None,
            holder: String::new(),
            chase: true,
            looped: false,
            with_guide: true,
            timecode: false,
            clock: false,
            window: false,
            machine: Machine::read(&folder),
            folder,
            outputs: Vec::new(),
            inputs: Vec::new(),
            looked: None,
            follow: Follow::Nothing,
            input: None,
            follower: None,
            recorder: Recorder::default(),
            holding: None,
            followed: 0.0,
            awake: None,
            after: None,
            said: None,
        }
    }

    /// The port that is listened to, by its name; empty for none.
    pub fn input(&self) -> &str {
        &self.machine.input
    }

    /// Whether a run goes on.
    pub fn runs(&self) -> bool {
        self.run.as_ref().is_some_and(Run::runs)
    }

    /// Whether a performance goes on.
    pub fn performs(&self) -> bool {
        self.run.as_ref().is_some_and(|r| r.runs() && r.mode == Mode::Perform)
    }

    /// Looks which ports the machine has.
    fn look(&mut self) {
        let mut ports = (self.ports)();
        match (ports.outputs(), ports.inputs()) {
            (Ok(outputs), Ok(inputs)) => {
                (self.outputs, self.inputs) = (outputs, inputs);
                self.looked = Some(String::new());
            }
            (Err(why), _) | (_, Err(why)) => self.looked = Some(why),
        }
    }

    fn names(&self, document: &Document) -> Vec<Option<String>> {
        document.show.ports.iter().map(|p| self.machine.output(&p.name, &self.outputs)).collect()
    }

    /// Sets up the threads for the show as it is now; what ran before stops.
    fn make_ready(&mut self, document: &mut Document, wake: Wake) {
        self.run = None;
        let Ok(derived) = document.derived() else { return };
        if self.looked.is_none() {
            self.look();
        }
        let programme = Arc::new(Programme::new(&derived.show, derived.service(), &derived.schedule));
        let all: Vec<u16> = (0..).take(programme.ports.len()).collect();
        let sync = SyncPlan {
            timecode: if self.timecode { all.clone() } else { Vec::new() },
            clock: if self.clock { all } else { Vec::new() },
        };
        let clock = Arc::new(SystemClocks::default());
        let log = self.folder.join("runs").join(format!("run-{}.jsonl", clock.wall() / 1_000_000));
        let runner = Runner {
            programme: programme.clone(),
            sync,
            ports: (self.ports)(),
            names: self.names(document),
            log: Some(log.clone()),
            clock,
            wake,
        };
        match runner.start() {
            Ok(handle) => {
                let of = (document.revision, document.service);
                self.run = Some(Run::new(handle, programme, of, Some(log), &derived.show));
            }
            Err(why) => document.fail(why),
        }
        self.listen_in(document);
    }

    /// Starts from the playhead, or stops.
    pub fn toggle(&mut self, document: &mut Document, listen: &mut Listen, wake: Wake) {
        if self.runs() {
            return self.stop_all(listen);
        }
        let stale = self.run.as_ref().is_none_or(|r| r.of != (document.revision, document.service));
        if stale {
            let mode = self.run.as_ref().map_or(Mode::Rehearse, |r| r.mode);
            self.make_ready(document, wake.clone());
            if let Some(run) = self.run.as_mut().filter(|_| mode == Mode::Perform) {
                run.mode = mode;
                run.handle.command(Command::Mode(mode));
            }
        }
        let names = self.names(document);
        let Some(run) = self.run.as_mut() else { return };
        run.held_back(&names);
        let mut song = document.playhead.micros();
        if song >= run.programme.end.micros() {
            song = 0;
            document.playhead = SongTime::ZERO;
        }
        run.handle.command(Command::NewRun);
        run.locks.fill(run::Seen::Closed(None));
        run.lines.clear();
        run.recent.clear();
        run.release_line = None;
        let part = self.looped.then(|| section(document)).flatten();
        run.handle.command(Command::Loop(part));
        listen.looped = part.is_some();
        listen.half = false;
        if self.with_guide && !listen.is_playing() {
            listen.toggle(document, wake);
        }
        run.handle.command(Command::Start { song, at: run.handle.now(), chase: self.chase });
        self.after = None;
        self.recorder.clear();
        self.awake = Some(Awake::new());
    }

    /// Everything stops.
    pub fn stop_all(&mut self, listen: &mut Listen) {
        if let Some(run) = &self.run {
            run.handle.command(Command::StopAll);
        }
        listen.stop();
        self.holding = None;
    }

    /// Once a frame, on any screen: what was told, where it is, what is held.
    pub fn follow(&mut self, ctx: &egui::Context, document: &mut Document, listen: &mut Listen) {
        let was = self.runs();
        let Some(run) = self.run.as_mut() else { return };
        run.hear();
        for notice in run.notices.drain(..) {
            document.fail(notice);
        }
        if let Some(words) = self.awake.as_mut().and_then(Awake::told) {
            document.say(words);
        }
        if run.runs() {
            document.playhead = run.song();
            ctx.request_repaint();
            // The guide's device has a clock of its own: what is heard is what is followed.
            let now = ctx.input(|i| i.time);
            if now - self.followed > 0.1
                && let Some(song) = listen.heard()
            {
                self.followed = now;
                #[allow(clippy::cast_possible_truncation)] // µs of a song
                run.handle.command(Command::Follow { song: (song * 1e6) as i64, at: run.handle.now() });
            }
        } else if was {
            listen.stop();
        }
        if self.follower.is_some() {
            ctx.request_repaint_after(std::time::Duration::from_millis(100));
        }
        if was && !self.runs() {
            self.awake = None;
            self.recorder.finish(document);
        }
    }

    /// The release that a hold is for: the next whose time has not come.
    fn release(&self) -> Option<u16> {
        let run = self.run.as_ref()?;
        let now = run.song();
        let next =
            run.programme.releases.iter().enumerate().filter(|(_, r)| r.send >= now).min_by_key(|(_, r)| r.send)?;
        u16::try_from(next.0).ok()
    }

    /// A hand on key or button: the hold is renewed every frame, and ends when it ends.
    fn hold(&mut self, ctx: &egui::Context, held: bool, document: &mut Document) {
        let wanted = self.release();
        let Some(run) = self.run.as_mut() else { return };
        match (held, wanted) {
            (true, Some(release)) if run.mode == Mode::Perform => {
                let missing = document.show.safety.missing();
                if !missing.is_empty() {
                    return document
                        .fail(format!("it cannot be armed: the safety sheet leaves open {}", missing.join(", ")));
                }
                if let Some(why) = run.barred(usize::from(release)) {
                    return document.fail(format!("it cannot be armed: {why}"));
                }
                if self.holder.trim().is_empty() {
                    return document.fail("say who holds the release before it can be armed");
                }
                let holder = run.holder(self.holder.trim());
                run.handle.command(Command::Hold { release, holder });
                self.holding = Some(release);
                ctx.request_repaint_after(std::time::Duration::from_millis(50));
            }
            _ => {
                if let Some(release) = self.holding.take() {
                    run.handle.command(Command::LetGo { release });
                }
            }
        }
    }

    /// Shows the screen.
    pub fn show(&mut self, ui: &mut Ui, document: &mut Document, listen: &mut Listen, theme: Theme, wake: &Wake) {
        let ctx = ui.ctx().clone();
        let Ok(derived) = document.derived() else {
            ui.label("There is nothing to rehearse yet: add a service on the Services screen.");
            return;
        };
        let mut held = !ctx.egui_wants_keyboard_input() && ctx.input(|i| i.key_down(ARM));
        egui::Panel::left("rehearse desk")
            .frame(egui::Frame::side_top_panel(ui.style()).fill(egui::Color32::TRANSPARENT))
            .exact_size(320.0)
            .show(ui, |ui| {
                egui::ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
                    held |= self.desk(ui, document, listen, theme, wake);
                });
            });
        self.hold(&ctx, held, document);
        if self.said.as_ref().is_none_or(|(of, _)| !Arc::ptr_eq(of, &derived)) {
            let spoken = calls(&derived.show, derived.service(), &derived.schedule);
            let said = breaths(&derived.show, derived.service(), &spoken);
            self.said = Some((derived.clone(), said));
        }
        let (run, at, sound) = (self.run.as_ref(), document.playhead, listen.words());
        let breaths = self.said.as_ref().map_or(&[][..], |(_, said)| said);
        let moment = Moment { derived: &derived, breaths, run, at, theme, sound };
        egui::CentralPanel::default()
            .frame(egui::Frame::central_panel(ui.style()).fill(egui::Color32::TRANSPARENT))
            .show(ui, |ui| {
                if let Some(after) = &mut self.after {
                    after.show(ui, document, run);
                } else {
                    board::show(ui, &moment);
                }
            });
        if self.window {
            self.window = second_window(&ctx, &moment);
        }
    }

    /// The controls. Gives whether the button to arm is held.
    fn desk(&mut self, ui: &mut Ui, document: &mut Document, listen: &mut Listen, theme: Theme, wake: &Wake) -> bool {
        let p = theme.palette();
        let runs = self.runs();
        let large = |words: &str| RichText::new(words).font(FontId::new(20.0, bold()));
        let start = if runs { "Stop" } else { "Start from the playhead" };
        if ui.add_sized([296.0, 44.0], egui::Button::new(large(start))).clicked() {
            self.toggle(document, listen, wake.clone());
        }
        let stop = egui::Button::new(large("Stop all  (Esc)").color(theme.on_alarm())).fill(p.alarm);
        if ui.add_sized([296.0, 52.0], stop).clicked() {
            self.stop_all(listen);
        }
        ui.add_space(6.0);
        let mode = self.run.as_ref().map_or(Mode::Rehearse, |r| r.mode);
        let mut wanted = mode;
        ui.add_enabled_ui(!runs, |ui| {
            ui.radio_value(&mut wanted, Mode::Rehearse, "Rehearse: no release is sent, only its stand-in");
            ui.radio_value(&mut wanted, Mode::Perform, "Perform: a release is sent while it is held");
        });
        if wanted != mode {
            if self.run.is_none() {
                self.make_ready(document, wake.clone());
            }
            if let Some(run) = &mut self.run {
                run.mode = wanted;
                run.handle.command(Command::Mode(wanted));
            }
        }
        let held = self.arm(ui, mode, document);
        ui.add_space(6.0);
        ui.checkbox(&mut self.with_guide, "The guide plays along");
        ui.checkbox(&mut self.chase, "Send first what should hold there (never a release)");
        ui.checkbox(&mut self.looped, "Go round in the section at the playhead");
        ui.checkbox(&mut self.window, "Second window for the stage manager (F11: full screen)");
        self.port_rows(ui, document);
        self.others(ui, document);
        self.recorder.show(ui, document);
        ui.add_space(8.0);
        let words = if self.after.is_some() {
            "Back to the board"
        } else {
            "After the run: lateness, notes, what was measured"
        };
        if ui.add_enabled(!runs, egui::Button::new(words).wrap()).clicked() {
            self.after = if self.after.is_some() { None } else { Some(After::default()) };
        }
        if let Some(log) = self.run.as_ref().and_then(|r| r.log.as_ref()) {
            ui.add(egui::Label::new(RichText::new(format!("Log: {}", log.display())).color(p.quiet)).wrap());
        }
        held
    }

    /// Who holds, and the button to hold.
    fn arm(&mut self, ui: &mut Ui, mode: Mode, document: &Document) -> bool {
        if mode == Mode::Rehearse {
            return false;
        }
        let missing = document.show.safety.missing();
        if !missing.is_empty() {
            let words = format!("No release is ever sent while the safety sheet leaves open {}.", missing.join(", "));
            ui.colored_label(ui.visuals().error_fg_color, words);
            return false;
        }
        ui.horizontal(|ui| {
            let label = ui.label("Held by");
            let hint = format!("name of the {}", document.show.safety.arm_holder);
            let edit = egui::TextEdit::singleline(&mut self.holder).desired_width(210.0).hint_text(hint);
            ui.add(edit).labelled_by(label.id);
        });
        let within = self.run.as_ref().zip(self.release()).is_some_and(|(run, at)| {
            let release = &run.programme.releases[usize::from(at)];
            run.runs() && release.from <= run.song() && run.song() <= release.send
        });
        let (words, size) = if within { ("HOLD to arm  (A)", 22.0) } else { ("Arming: only within its window", 16.0) };
        // A drag too: a hold is longer than any click, and a hand may tremble.
        let button = egui::Button::new(RichText::new(words).font(FontId::new(size, bold())))
            .sense(egui::Sense::click_and_drag())
            .fill(if within { ui.visuals().warn_fg_color.gamma_multiply(0.35) } else { ui.visuals().faint_bg_color });
        let response = ui.add_enabled_ui(within, |ui| ui.add_sized([296.0, 64.0], button)).inner;
        ui.label("Look first: zone clear, clear signal given. Held for a second it is armed; let go and it is locked. Letfall cannot see whether it is safe.");
        response.is_pointer_button_down_on()
    }

    /// Which port of the machine stands for which of the show.
    fn port_rows(&mut self, ui: &mut Ui, document: &mut Document) {
        ui.add_space(8.0);
        ui.label(RichText::new("MIDI ports").font(FontId::new(15.5, bold())));
        if self.looked.is_none() {
            self.look();
        }
        if let Some(why) = self.looked.clone().filter(|w| !w.is_empty()) {
            ui.colored_label(ui.visuals().warn_fg_color, why);
        }
        let mut changed = false;
        for port in &document.show.ports {
            let label = ui.label(&port.name);
            let chosen = self.machine.output(&port.name, &self.outputs);
            let shown = chosen.clone().unwrap_or_else(|| "not connected".to_owned());
            let combo = egui::ComboBox::from_id_salt(("port", &port.key)).width(280.0).selected_text(shown);
            let response = combo.show_ui(ui, |ui| {
                for name in &self.outputs {
                    if ui.selectable_label(chosen.as_ref() == Some(name), name).clicked() {
                        self.machine.outputs.insert(port.name.clone(), name.clone());
                        changed = true;
                    }
                }
            });
            response.response.labelled_by(label.id);
        }
        if ui.button("Look for ports again").clicked() {
            self.look();
            changed = true;
        }
        if changed {
            if let Err(why) = self.machine.write(&self.folder) {
                document.fail(format!("the choice of ports cannot be kept: {why}"));
            }
            let names = self.names(document);
            if let Some(run) = &mut self.run {
                run.held_back(&names);
                run.handle.connect(names);
            }
        }
    }

    /// Keeping others in time, and following them.
    fn others(&mut self, ui: &mut Ui, document: &mut Document) {
        ui.add_space(8.0);
        ui.label(RichText::new("In time with others").font(FontId::new(15.5, bold())));
        let (timecode, clock) = (self.timecode, self.clock);
        ui.checkbox(&mut self.timecode, "Send MIDI time code to all ports");
        ui.checkbox(&mut self.clock, "Send MIDI clock and song position to all ports");
        if (timecode, clock) != (self.timecode, self.clock) && !self.runs() {
            // The threads are set up anew at the next start.
            self.run = None;
        }
        let has_timecode = document.current().is_some_and(|s| s.timecode.is_some());
        if self.timecode && !has_timecode {
            ui.label("This service has no timecode start: set it on the Services screen.");
        }
        let before = (self.follow, self.machine.input.clone());
        for (follow, words) in [
            (Follow::Nothing, "Follow nothing"),
            (Follow::Timecode, "Follow MIDI time code"),
            (Follow::Clock, "Follow MIDI start, song position and clock"),
        ] {
            ui.radio_value(&mut self.follow, follow, words);
        }
        let label = ui.label("Listen to");
        let shown = if self.machine.input.is_empty() { "nothing" } else { &self.machine.input }.to_owned();
        let combo = egui::ComboBox::from_id_salt("listen to").width(280.0).selected_text(shown).show_ui(ui, |ui| {
            ui.selectable_value(&mut self.machine.input, String::new(), "nothing");
            for name in &self.inputs {
                ui.selectable_value(&mut self.machine.input, name.clone(), name);
            }
        });
        combo.response.labelled_by(label.id);
        if before != (self.follow, self.machine.input.clone()) {
            if let Err(why) = self.machine.write(&self.folder) {
                document.fail(format!("the choice of ports cannot be kept: {why}"));
            }
            self.listen_in(document);
        }
    }

    /// Listens to the chosen port: another's clock goes to the engine, what is struck to the recorder.
    fn listen_in(&mut self, document: &mut Document) {
        (self.input, self.follower) = (None, None);
        let Some(run) = &self.run else { return };
        if self.machine.input.is_empty() {
            return;
        }
        let follower = Follower::new(self.follow, run.programme.grid.clone(), run.programme.timecode);
        let follower = Arc::new(Mutex::new(follower));
        let (hears, give, clock) = (follower.clone(), run.handle.commander(), run.handle.clock());
        let struck = self.recorder.struck();
        let heard = move |bytes: &[u8]| {
            let now = clock.now();
            struck(bytes, now);
            let says = hears.lock().unwrap_or_else(PoisonError::into_inner).hear(bytes, now);
            match says {
                Some(Says::Start(song)) => give(Command::Start { song, at: now, chase: false }),
                Some(Says::At(song)) => give(Command::Follow { song, at: now }),
                Some(Says::Locate(song)) => give(Command::Locate { song }),
                Some(Says::Stop) => give(Command::Stop),
                None => true,
            };
        };
        match (self.ports)().listen(&self.machine.input, Box::new(heard)) {
            Ok(input) => {
                self.input = Some(input);
                self.follower = (self.follow != Follow::Nothing).then_some(follower);
            }
            Err(why) => document.fail(why),
        }
    }

    /// What is followed has fallen silent: the run stops.
    pub fn watch(&mut self) {
        let Some((run, follower)) = self.run.as_ref().zip(self.follower.as_ref()) else { return };
        if follower.lock().unwrap_or_else(PoisonError::into_inner).is_silent(run.handle.now()) {
            run.handle.command(Command::Stop);
        }
    }

    /// Song time of a time of the machine's clock, for what was struck.
    pub fn gather(&mut self) {
        if let Some(run) = &self.run
            && run.runs()
        {
            let (song, at, _) = run.place;
            self.recorder.gather(|when| song + (when - at));
        }
    }
}

/// The board in a window of its own, for the stage manager's screen. Whether it stays open.
fn second_window(ctx: &egui::Context, moment: &Moment<'_>) -> bool {
    let id = egui::ViewportId::from_hash_of("stage manager");
    let builder =
        egui::ViewportBuilder::default().with_title("Letfall: stage manager").with_inner_size([1280.0, 720.0]);
    ctx.show_viewport_immediate(id, builder, |ui, _| {
        let ground = moment.theme.palette().panel;
        egui::CentralPanel::default().frame(egui::Frame::central_panel(ui.style()).fill(ground)).show(ui, |ui| {
            board::show(ui, moment);
        });
        if ui.input(|i| i.key_pressed(Key::F11)) {
            let full = ui.input(|i| i.viewport().fullscreen.unwrap_or(false));
            ui.ctx().send_viewport_cmd(egui::ViewportCommand::Fullscreen(!full));
        }
        !ui.input(|i| i.viewport().close_requested())
    })
}

/// The section at the playhead, as song times.
fn section(document: &Document) -> Option<(i64, i64)> {
    let derived = document.derived().ok()?;
    let grid = &derived.schedule.grid;
    let section = derived.service().song.section_at(grid.place_of(document.playhead_tick()).bar)?.clone();
    let end = section.bar.saturating_add(i32::try_from(section.bars).unwrap_or(1));
    Some((grid.bar_time(section.bar).micros(), grid.bar_time(end).micros()))
}
