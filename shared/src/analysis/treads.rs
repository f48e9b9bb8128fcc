//! Which foot trod where on one side, told from all contacts of a crossing without a stop.
//!
//! The hind foot takes the print of the fore foot of its side, so both tread the same plates unless a print is near an
//! edge. Of all ways to share the contacts between the two feet one is left, or the feet are unsure.

use super::contact::Contact;
use crate::units::Milliseconds;

/// Contacts of a side in a walk: two feet on two plates.
const MOST: usize = 4;
/// A foot is in the air at least this long between two contacts, ms; our choice: a third of the swing of a sound cow
/// (stride 1.26 s, Flower 2005).
const SHORTEST_SWING_MS: u64 = 150;

/// A foot of a side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Foot {
    /// The front foot.
    Fore,
    /// The hind foot.
    Hind,
}

/// A contact, its plate and, where told, its foot.
#[derive(Clone, Copy, Debug)]
pub struct Tread {
    /// Whether on the front plate.
    pub front: bool,
    /// Whose.
    pub foot: Option<Foot>,
    /// The contact.
    pub contact: Contact,
}

/// The contacts of one side, in the order of landing.
#[derive(Clone, Debug, Default)]
pub struct Treads(heapless::Vec<Tread, MOST>);

impl Treads {
    /// Keeps a contact; false where a walk has no more of them.
    pub fn keep(&mut self, tread: Tread) -> bool {
        let at = self.0.iter().position(|other| other.contact.start > tread.contact.start);
        self.0.insert(at.unwrap_or(self.0.len()), tread).is_ok()
    }

    /// When the first contact began.
    #[must_use]
    pub fn first(&self) -> Option<Milliseconds> {
        self.0.first().map(|tread| tread.contact.start)
    }

    /// Takes the first contact out.
    pub fn pop(&mut self) -> Option<Tread> {
        (!self.0.is_empty()).then(|| self.0.remove(0))
    }

    /// Tells the feet from the whole crossing; none where more than one way, or no way, is left.
    pub fn tell(&mut self) {
        let ways = || (0..1_u8 << self.0.len()).filter(|hind| self.walks(*hind));
        let same = || ways().filter(|hind| self.treads_alike(*hind));
        let way = if same().next().is_some() { only(same()) } else { only(ways()) };
        for (at, tread) in self.0.iter_mut().enumerate() {
            tread.foot = way.map(|hind| foot(hind, at));
        }
    }

    /// Whether two feet can walk this way; bit n of `hind` is set where contact n is the hind foot's.
    fn walks(&self, hind: u8) -> bool {
        // In a walk a foot is longer on the ground than in the air.
        let longest_swing = self.0.iter().map(|t| t.contact.end.since(t.contact.start).0).max().unwrap_or(0);
        self.0.iter().enumerate().all(|(at, tread)| {
            let before = || self.0.iter().enumerate().take(at).map(|(n, other)| (foot(hind, n), other));
            let own = before().rfind(|(whose, _)| *whose == foot(hind, at));
            let steps_on = own.is_none_or(|(_, last)| {
                let swing = tread.contact.start.since(last.contact.end).0;
                !last.front && tread.front && (SHORTEST_SWING_MS..=longest_swing).contains(&swing)
            });
            // The hind foot is never on a plate, or ahead of one, that the fore foot comes to later.
            let follows = foot(hind, at) == Foot::Hind
                || before().all(|(whose, other)| whose == Foot::Fore || (tread.front && !other.front));
            steps_on && follows
        })
    }

    /// Whether both feet trod the same plates.
    fn treads_alike(&self, hind: u8) -> bool {
        let plates = |whose| {
            let of_foot = self.0.iter().enumerate().filter(move |(at, _)| foot(hind, *at) == whose);
            of_foot.fold(0_u8, |plates, (_, tread)| plates | 1 << u8::from(tread.front))
        };
        plates(Foot::Fore) == plates(Foot::Hind)
    }
}

fn only(mut ways: impl Iterator<Item = u8>) -> Option<u8> {
    let first = ways.next();
    first.filter(|_| ways.next().is_none())
}

const fn foot(hind: u8, at: usize) -> Foot {
    if hind >> at & 1 == 1 { Foot::Hind } else { Foot::Fore }
}
