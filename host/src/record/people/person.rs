//! People who may look at the pages over the network, and record.

use serde::Serialize;

/// What a person may do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Read every page.
    Look,
    /// And enter marks and cases.
    Record,
    /// And see who recorded what.
    Administer,
}

impl Role {
    /// Each, the least first.
    pub const ALL: [Self; 3] = [Self::Look, Self::Record, Self::Administer];

    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Look => "look",
            Self::Record => "record",
            Self::Administer => "administer",
        }
    }

    /// The role of a name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|role| role.name() == name)
    }
}

/// A person.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Person {
    /// What she logs in with.
    pub name: String,
    /// What she may do.
    pub role: Role,
    /// The password as a hash with its salt, never as typed (PHC string).
    #[serde(skip)]
    pub password: String,
}

/// What somebody did on the pages.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Deed {
    /// When, UTC.
    pub at: jiff::Timestamp,
    /// Who.
    pub who: String,
    /// What: a word and what it was done to.
    pub what: String,
}
