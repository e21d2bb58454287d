//! A desk's own cue list taken over into presets, and their numbers given anew.

use super::{Edit, Part};
use crate::show::{CueNumber, CuePath, Data7, Message, Preset, PresetKey, Receiver, ReceiverKey, Show, ShowCommand};
use crate::time::SongSpan;

/// One line of a desk's cue list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DeskLine {
    /// The number that the desk shows.
    pub number: String,
    /// Its name there; empty if it has none.
    pub name: String,
    /// Its fade; `None` if the list does not say.
    pub fade: Option<SongSpan>,
}

/// What taking over a list has done.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct DeskListTaken {
    /// Presets that had the number or the name and were changed.
    pub changed: usize,
    /// Presets that are new.
    pub new: usize,
    /// Numbers for which no message could be worked out: it is to be entered by hand.
    pub without_message: Vec<String>,
}

/// Why a list or a renumbering is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DeskListError {
    /// There is no such receiver.
    #[error("there is no receiver \"{0}\"; letfall check names the show's receivers")]
    NoReceiver(ReceiverKey),
    /// Two lines of the list have one number.
    #[error("the list has number {0} twice; a desk shows each number once")]
    Twice(String),
    /// Numbers would grow beyond what can be counted.
    #[error("the numbers would grow beyond {max}; begin lower or step less", max = u32::MAX)]
    TooHigh,
    /// Nothing to number.
    #[error("the receiver \"{0}\" has no presets")]
    NoPresets(ReceiverKey),
}

/// The message that calls up a desk's number, made like the messages that the receiver's presets have: a show-control GO for a receiver
/// with a device number, or a program change whose number is one less than the desk's (desks count programs from 1).
fn message_for(number: &str, receiver: &Receiver, like: Option<&Message>) -> Option<Message> {
    let program = |bank| {
        let value = number.parse::<u8>().ok()?.checked_sub(1)?;
        Some(Message::Program { number: Data7::new(value)?, bank })
    };
    let go = |path: CuePath| {
        let cue: CueNumber = number.parse().ok()?;
        Some(Message::ShowControl(ShowCommand::Go(CuePath { cue: Some(cue), ..path })))
    };
    match like {
        Some(Message::ShowControl(ShowCommand::Go(path))) => go(path.clone()),
        Some(Message::Program { bank, .. }) => program(*bank),
        Some(_) => None,
        None if receiver.device.is_some() => go(CuePath::default()),
        None => program(None),
    }
}

/// Takes over a desk's cue list: presets of the receiver with the same number, or else the same name, get number, name and fade of the
/// list; all others are new presets, with the message that calls up their number. Presets that are not in the list stay.
///
/// # Errors
/// [`DeskListError`] if there is no such receiver, or a number stands twice.
pub fn take_desk_list(
    show: &Show,
    receiver: &ReceiverKey,
    lines: &[DeskLine],
) -> Result<(Edit, DeskListTaken), DeskListError> {
    let device = show.receiver(receiver).ok_or_else(|| DeskListError::NoReceiver(receiver.clone()))?;
    for (at, line) in lines.iter().enumerate() {
        if lines[..at].iter().any(|other| other.number == line.number) {
            return Err(DeskListError::Twice(line.number.clone()));
        }
    }
    let mut presets = show.presets.clone();
    let mut taken = DeskListTaken::default();
    let like = presets.iter().find(|preset| preset.receiver == *receiver).map(|preset| preset.message.clone());
    // Which presets a line has been found for: no preset is taken twice.
    let mut used = vec![false; presets.len()];
    for line in lines {
        let same = |text: &str, other: &str| {
            !text.trim().is_empty() && text.trim().to_lowercase() == other.trim().to_lowercase()
        };
        let numbered = presets.iter().position(|p| p.receiver == *receiver && p.desk.trim() == line.number);
        let named = || {
            let free = |(at, p): &(usize, &Preset)| {
                p.receiver == *receiver
                    && p.desk.trim().is_empty()
                    && !used.get(*at).copied().unwrap_or(true)
                    && same(&p.name, &line.name)
            };
            presets.iter().enumerate().find(free).map(|(at, _)| at)
        };
        if let Some(at) = numbered.or_else(named) {
            let preset = &mut presets[at];
            line.number.clone_into(&mut preset.desk);
            if !line.name.trim().is_empty() {
                line.name.trim().clone_into(&mut preset.name);
            }
            preset.fade = line.fade.unwrap_or(preset.fade);
            if let Some(used) = used.get_mut(at) {
                *used = true;
            }
            taken.changed += 1;
            continue;
        }
        let message = message_for(&line.number, device, like.as_ref());
        if message.is_none() {
            taken.without_message.push(line.number.clone());
        }
        let Some(key) = free_key(&presets) else { continue };
        let zero = Data7::new(0).unwrap_or_else(|| unreachable!("0 is a data byte"));
        presets.push(Preset {
            key,
            name: if line.name.trim().is_empty() {
                format!("Preset {}", line.number)
            } else {
                line.name.trim().to_owned()
            },
            receiver: receiver.clone(),
            desk: line.number.clone(),
            message: message.unwrap_or(Message::Program { number: zero, bank: None }),
            fade: line.fade.unwrap_or(SongSpan::from_millis(1000)),
            colour: "ffffff".to_owned(),
            level: 100,
            behind: None,
            front_lux: 0.0,
            back_lux: 0.0,
        });
        taken.new += 1;
    }
    let part =
        Edit::Part { before: Box::new(Part::Presets(show.presets.clone())), after: Box::new(Part::Presets(presets)) };
    Ok((part, taken))
}

fn free_key(presets: &[Preset]) -> Option<PresetKey> {
    let names = (presets.len() + 1..).map(|n| format!("preset-{n}"));
    let free = |name: &String| !presets.iter().any(|preset| preset.key.as_str() == name);
    names.take(presets.len() + 2).find(free).and_then(|name| name.parse().ok())
}

/// Gives the presets of a receiver numbers in the order in which they stand: from a number on, in equal steps. A message that called up the
/// old number calls up the new one.
///
/// # Errors
/// [`DeskListError`] if there is no such receiver, if it has no presets, or if the numbers grow too high.
pub fn renumber(show: &Show, receiver: &ReceiverKey, from: u32, step: u32) -> Result<(Edit, usize), DeskListError> {
    let device = show.receiver(receiver).ok_or_else(|| DeskListError::NoReceiver(receiver.clone()))?;
    let mut presets = show.presets.clone();
    let mut next = Some(from);
    let mut count = 0;
    for preset in presets.iter_mut().filter(|preset| preset.receiver == *receiver) {
        let number = next.ok_or(DeskListError::TooHigh)?;
        next = number.checked_add(step.max(1));
        let number = number.to_string();
        let called_up = message_for(preset.desk.trim(), device, Some(&preset.message));
        if called_up.as_ref() == Some(&preset.message)
            && let Some(message) = message_for(&number, device, Some(&preset.message))
        {
            preset.message = message;
        }
        preset.desk = number;
        count += 1;
    }
    if count == 0 {
        return Err(DeskListError::NoPresets(receiver.clone()));
    }
    let part =
        Edit::Part { before: Box::new(Part::Presets(show.presets.clone())), after: Box::new(Part::Presets(presets)) };
    Ok((part, count))
}
