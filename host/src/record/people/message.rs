//! What people are told without their looking.

use serde::Serialize;

/// What a message is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum MessageKind {
    /// A cow has become urgent.
    Urgent,
    /// A lane is silent or measures nothing that can be used.
    Lane,
    /// A withdrawal as entered is over.
    WithdrawalOver,
}

impl MessageKind {
    /// Every kind.
    pub const ALL: [Self; 3] = [Self::Urgent, Self::Lane, Self::WithdrawalOver];

    /// Its name in files and output.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Urgent => "urgent",
            Self::Lane => "lane",
            Self::WithdrawalOver => "withdrawal_over",
        }
    }

    /// The kind of a name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.name() == name)
    }

    /// Whether it is told even where it is no longer so by then: what befell a cow is, a lane that is well again is not.
    #[must_use]
    pub const fn told_when_over(self) -> bool {
        !matches!(self, Self::Lane)
    }
}

/// Something that is so and worth telling.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Matter {
    /// What it is about.
    pub kind: MessageKind,
    /// Which of its kind.
    pub subject: String,
    /// In words.
    pub text: String,
}

/// A message.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Message {
    /// Its number.
    #[serde(skip)]
    pub id: i64,
    /// What it is about.
    pub kind: MessageKind,
    /// Which of its kind.
    pub subject: String,
    /// In words.
    pub text: String,
}
