//! Who is competent, who is clear, who arms. Letfall records what people have settled; it never judges it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The safety sheet. Release messages leave the program in a file only when it is filled in.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct SafetySheet {
    /// Who is competent for the rig and has looked at it, as a role.
    pub competent: String,
    /// The drop zone, in words.
    pub drop_zone: String,
    /// Who gives the clear signal, and how.
    pub clear_signal: String,
    /// Who holds the arm, as a role.
    pub arm_holder: String,
    /// Words that stop everything.
    pub abort_words: String,
    /// The local code, licence or house rule the show defers to.
    pub local_rule: String,
}

impl SafetySheet {
    /// The lines a release must not go without that are still empty, in words.
    pub fn missing(&self) -> Vec<&'static str> {
        [
            (&self.competent, "who is competent for the rig"),
            (&self.drop_zone, "the drop zone"),
            (&self.clear_signal, "the clear signal"),
            (&self.arm_holder, "who holds the arm"),
        ]
        .into_iter()
        .filter_map(|(text, what)| text.trim().is_empty().then_some(what))
        .collect()
    }
}
