//! The four plates, the four legs, and values held for each of them.

use core::ops::{Index, IndexMut};
use serde::{Deserialize, Serialize};

/// A weighing platform, named by where it lies facing the exit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Plate {
    /// Left front.
    LF,
    /// Right front.
    RF,
    /// Left rear.
    LR,
    /// Right rear.
    RR,
}

/// A leg, named as in the ICAR data dictionary.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Leg {
    /// Left front.
    LF,
    /// Right front.
    RF,
    /// Left rear.
    LR,
    /// Right rear.
    RR,
}

/// Two legs side by side.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Pair {
    /// LF and RF.
    Front,
    /// LR and RR.
    Rear,
}

impl Plate {
    /// Every plate, in the order used everywhere.
    pub const ALL: [Self; 4] = [Self::LF, Self::RF, Self::LR, Self::RR];

    /// Its name, as in every table.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::LF => "LF",
            Self::RF => "RF",
            Self::LR => "LR",
            Self::RR => "RR",
        }
    }
}

impl Leg {
    /// Every leg, in the order used everywhere.
    pub const ALL: [Self; 4] = [Self::LF, Self::RF, Self::LR, Self::RR];

    /// The leg's short name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::LF => "LF",
            Self::RF => "RF",
            Self::LR => "LR",
            Self::RR => "RR",
        }
    }

    /// The pair it belongs to.
    #[must_use]
    pub const fn pair(self) -> Pair {
        match self {
            Self::LF | Self::RF => Pair::Front,
            Self::LR | Self::RR => Pair::Rear,
        }
    }

    /// The other leg of its pair.
    #[must_use]
    pub const fn opposite(self) -> Self {
        match self {
            Self::LF => Self::RF,
            Self::RF => Self::LF,
            Self::LR => Self::RR,
            Self::RR => Self::LR,
        }
    }

    /// The leg of a short name, in either case.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|leg| leg.name().eq_ignore_ascii_case(name))
    }
}

impl Pair {
    /// Its left and right leg.
    #[must_use]
    pub const fn legs(self) -> (Leg, Leg) {
        match self {
            Self::Front => (Leg::LF, Leg::RF),
            Self::Rear => (Leg::LR, Leg::RR),
        }
    }
}

/// One value for each plate.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct PerPlate<T>(pub [T; 4]);

/// One value for each leg.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct PerLeg<T>(pub [T; 4]);

impl<T> Index<Plate> for PerPlate<T> {
    type Output = T;
    fn index(&self, plate: Plate) -> &T {
        &self.0[plate as usize]
    }
}

impl<T> IndexMut<Plate> for PerPlate<T> {
    fn index_mut(&mut self, plate: Plate) -> &mut T {
        &mut self.0[plate as usize]
    }
}

impl<T> Index<Leg> for PerLeg<T> {
    type Output = T;
    fn index(&self, leg: Leg) -> &T {
        &self.0[leg as usize]
    }
}

impl<T> IndexMut<Leg> for PerLeg<T> {
    fn index_mut(&mut self, leg: Leg) -> &mut T {
        &mut self.0[leg as usize]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plates_have_the_names_of_the_tables() {
        assert_eq!(Plate::ALL.map(Plate::name), ["LF", "RF", "LR", "RR"]);
    }
}
