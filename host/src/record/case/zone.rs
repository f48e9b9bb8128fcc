//! Zones of the international foot map.

/// A zone of the foot map, 0 to 12.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Zone(u8);

impl Zone {
    /// The highest zone of the map.
    pub const LAST: u8 = 12;

    /// The zone of a number; `None` where the map has no such zone.
    #[must_use]
    pub const fn new(number: u8) -> Option<Self> {
        if number <= Self::LAST { Some(Self(number)) } else { None }
    }

    /// Its number.
    #[must_use]
    pub const fn number(self) -> u8 {
        self.0
    }

    /// Where it lies, as far as a source says so (agproud.com/articles/28244; axial view: yumpu 54509019).
    #[must_use]
    pub const fn place(self) -> &'static str {
        match self.0 {
            0 => "skin between the claws",
            1..=6 => "weight-bearing surface",
            7 | 8 => "outside wall",
            10 => "cleft between the claws",
            11 | 12 => "inside wall",
            _ => "see the foot map",
        }
    }
}
