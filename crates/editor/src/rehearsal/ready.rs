//! Making ready for a run: its plan, its threads, its log.

use super::leads::late_by;
use super::run::Run;
use super::session::Rehearsal;
use crate::document::{Document, Waker};
use letfall_core::prepared::Prepared;
use letfall_core::schedule::keeping_time_of_day;
use letfall_core::time::SongSpan;
use letfall_live::{Clocks as _, MachineSpan, Mode, RunPlan, Runner, ShowPort, SyncPlan, SystemClocks};
use std::sync::Arc;

impl Rehearsal {
    /// Sets up the threads for the show as it is now; a run that is going on is ended.
    pub(super) fn make_ready(&mut self, document: &mut Document, wake: &Waker) {
        self.make_ready_late(SongSpan::ZERO, document, wake);
    }

    /// Makes ready for a start that is so much later than planned, with cues at clock times that keep their time of day.
    pub(super) fn make_ready_late(&mut self, late: SongSpan, document: &mut Document, wake: &Waker) {
        self.end_run();
        let prepared = match (document.plan(), late) {
            (Err(_), _) => return,
            (Ok(prepared), SongSpan::ZERO) => prepared,
            (Ok(prepared), _) => {
                let show = keeping_time_of_day(prepared.show(), prepared.service_at(), late);
                match Prepared::hypothetical(Arc::new(show), prepared.service_at()) {
                    Ok(prepared) => prepared,
                    Err(why) => return document.fail(why.to_string()),
                }
            }
        };
        if self.looked.is_none() {
            self.look();
        }
        let plan = Arc::new(RunPlan::new(prepared.clone()));
        let all: Vec<ShowPort> = (0..plan.ports.len()).map(ShowPort::at).collect();
        let sync = SyncPlan {
            timecode: if self.options.timecode { all.clone() } else { Vec::new() },
            clock: if self.options.clock { all } else { Vec::new() },
        };
        let clock = Arc::new(SystemClocks::default());
        let name = format!("run-{}.jsonl", clock.wall().micros() / 1_000_000);
        let log = self.folder.join("runs").join(name);
        let runner = Runner {
            plan: plan.clone(),
            sync,
            ports: (self.ports)(),
            names: self.names(document),
            log: Some(log.clone()),
            clock,
            keeper: self.keeper.clone(),
            wake: wake.clone(),
            after: std::mem::take(&mut self.ending),
        };
        match runner.start() {
            Ok(handle) => {
                let of = (document.revision, document.service);
                let mut run = Run::new(handle, plan, of, Some(log), prepared.show());
                run.kept = late;
                self.run = Some(run);
            }
            Err(why) => document.fail(why),
        }
        self.listen_in(document);
    }

    /// How much later than planned a performance starts, if cues at clock times are to keep their time of day. Less than a second is none.
    pub(super) fn kept(&self, wait: MachineSpan, document: &Document) -> SongSpan {
        let late = late_by(document, wait).filter(|_| self.options.keep_times && self.mode() == Mode::Perform);
        late.map(SongSpan::from_micros)
            .filter(|late| late.abs() >= SongSpan::from_millis(1000))
            .unwrap_or(SongSpan::ZERO)
    }
}
