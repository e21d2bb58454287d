//! A gate on a bench: two ports of the show on two machine ports. The test plays the part of the ports' threads.

use super::made_up::{self, at, plan, show};
use letfall_core::show::{Kind, Link, Show};
use letfall_live::{
    Debt, Event, Gate, Grip, HolderId, ItemIndex, MachineTime, Orders, Packet, Payload, PhysicalPort, PortLink,
    ReleaseIndex, Report, RunPlan, SendOutcome, ShowPort, Task,
};
use std::sync::Arc;
use std::sync::atomic::AtomicU64;

/// The other ends of a port's link.
pub struct Thread {
    pub packets: rtrb::Consumer<Packet>,
    pub reports: rtrb::Producer<Report>,
    pub recalls: Arc<AtomicU64>,
}

pub struct Bench {
    pub gate: Gate,
    pub plan: Arc<RunPlan>,
    pub orders: Arc<Orders>,
    pub threads: Vec<Thread>,
    pub events: Vec<Event>,
}

/// Two ports of the show on machine ports 0 and 1, at the speed of a five-pin cable, on the given interfaces.
pub fn bench(interfaces: [u16; 2], own: bool) -> Bench {
    let mut show: Show = show();
    show.ports.iter_mut().for_each(|port| port.link = Link::Din);
    bench_of(&show, interfaces, own)
}

/// The same for any show of two ports, at the speeds of their links.
pub fn bench_of(show: &Show, interfaces: [u16; 2], own: bool) -> Bench {
    let plan = plan(show);
    let orders = Arc::new(Orders::new(plan.releases.len()));
    let mut bench =
        Bench { gate: Gate::new(plan.clone(), orders.clone()), plan, orders, threads: Vec::new(), events: Vec::new() };
    for (at, interface) in interfaces.into_iter().enumerate() {
        let (packets, taken) = rtrb::RingBuffer::new(512);
        let (reports, heard) = rtrb::RingBuffer::new(512);
        let recalls: Arc<AtomicU64> = Arc::default();
        let link = PortLink {
            packets,
            reports: heard,
            thread: None,
            recalls: recalls.clone(),
            nanos_per_byte: bench.plan.nanos_per_byte[at],
            own,
            interface,
        };
        bench.gate.add_port(PhysicalPort::at(at), link);
        bench.threads.push(Thread { packets: taken, reports, recalls });
        assert!(bench.gate.assign(ShowPort::at(at), Some(PhysicalPort::at(at)), made_up::at(0), &mut |_| ()));
    }
    bench
}

impl Bench {
    pub fn ready(&mut self, port: usize, now: i64) {
        self.threads[port].reports.push(Report::Ready).unwrap();
        self.pump(now);
    }

    pub fn pump(&mut self, now: i64) -> Option<i64> {
        let events = &mut self.events;
        self.gate.pump(at(now), &mut |event| events.push(event)).map(MachineTime::micros)
    }

    /// The nth lighting message of the plan. They are all on the show's port 0.
    pub fn light(&self, nth: usize) -> ItemIndex {
        let lights = self.plan.timed().iter().enumerate().filter(|(_, i)| i.label.kind == Kind::Lighting);
        let mut lights = lights.filter(|(_, i)| i.ends.is_none() && i.port == ShowPort(0));
        ItemIndex::at(lights.nth(nth).unwrap().0)
    }

    pub fn offer(&mut self, port: u16, item: ItemIndex, due: i64) -> Result<(), SendOutcome> {
        let task = Task::Cue { item, outcome: SendOutcome::Sent, owes: None };
        let bytes = self.plan.items[item.index()].bytes;
        self.gate.offer(ShowPort(port), Payload::Plan(bytes), task, Kind::Lighting.rank(), at(due))
    }

    /// Takes the packets that were handed over to a port.
    pub fn taken(&mut self, port: usize) -> Vec<Packet> {
        std::iter::from_fn(|| self.threads[port].packets.pop().ok()).collect()
    }

    pub fn done(&mut self, port: usize, packet: Packet, when: i64) {
        let free = at(when + 2_560);
        self.threads[port].reports.push(Report::Done { packet, result: Ok(at(when)), free }).unwrap();
    }

    pub fn fates(&self) -> Vec<(usize, SendOutcome)> {
        let of = |e: &Event| {
            if let Event::Message { item, outcome, .. } = e { Some((item.index(), *outcome)) } else { None }
        };
        self.events.iter().filter_map(of).collect()
    }
}

/// A packet of a release, and what it owes.
pub fn release(item: ItemIndex, owes: Option<Debt>) -> Packet {
    let task = Task::Release {
        item,
        release: ReleaseIndex(0),
        holder: HolderId(0),
        grip: Grip(1),
        not_after: at(1_000_000),
        owes,
    };
    Packet { task, payload: Payload::made(&[]), due: at(0), epoch: 0, recalls: 0 }
}
