//! Who is the competent person, who gives the clear signal, who arms. Letfall records what people have decided; it never judges
//! it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The safety sheet. Release messages are written to a file only when it is filled in.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct SafetySheet {
    /// Who is competent for the rig and has looked at it, as a role.
    pub competent: String,
    /// The drop zone, in words.
    pub drop_zone: String,
    /// Who gives the clear signal, and how.
    pub clear_signal: String,
    /// Who calls the show, as a role.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub caller: String,
    /// Who holds the arm, as a role: the release operator.
    pub arm_holder: String,
    /// Who watches the drop zone the whole time and holds the key switch, as a role: the spotter.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub spotter: String,
    /// The key-enabled, spring-return switch that keeps the fabric up until the spotter presses it: where it is, and who wired it.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub key_switch: String,
    /// Words that stop everything.
    pub abort_words: String,
    /// Words that say that a fabric stays up: nobody armed in time, or let go.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub stay_words: String,
    /// The local code, licence or house rule the show defers to.
    pub local_rule: String,
}

impl SafetySheet {
    /// The lines that a release requires and that are still empty, in words.
    pub fn missing(&self) -> Vec<&'static str> {
        [
            (&self.competent, "who is competent for the rig"),
            (&self.drop_zone, "the drop zone"),
            (&self.clear_signal, "the clear signal"),
            (&self.arm_holder, "who holds the arm"),
            (&self.key_switch, "the key switch of the person who sees the drop zone"),
            (&self.abort_words, "the words that stop everything"),
        ]
        .into_iter()
        .filter_map(|(text, what)| text.trim().is_empty().then_some(what))
        .collect()
    }

    /// What the sheets call whoever calls the show: the role that was settled, or else the word for it.
    pub fn caller_role(&self) -> &str {
        said_or(&self.caller, "caller")
    }

    /// What they call whoever holds the arm.
    pub fn operator_role(&self) -> &str {
        said_or(&self.arm_holder, "release operator")
    }

    /// What they call whoever sees the drop zone.
    pub fn spotter_role(&self) -> &str {
        said_or(&self.spotter, "spotter")
    }

    /// Pairs of roles at a release (of caller, release operator and spotter) that the sheet gives to the same person.
    pub fn shared_roles(&self) -> Vec<(&'static str, &'static str)> {
        let roles = [("caller", &self.caller), ("release operator", &self.arm_holder), ("spotter", &self.spotter)];
        let person = |text: &str| text.trim().to_lowercase();
        let mut found = Vec::new();
        for (at, (one, who)) in roles.iter().enumerate() {
            let same = |(_, other): &&(&'static str, &String)| !who.trim().is_empty() && person(other) == person(who);
            found.extend(roles[at + 1..].iter().filter(same).map(|(other, _)| (*one, *other)));
        }
        found
    }
}

fn said_or<'a>(said: &'a str, usual: &'a str) -> &'a str {
    if said.trim().is_empty() { usual } else { said.trim() }
}
