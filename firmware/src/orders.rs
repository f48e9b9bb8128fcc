//! What a paired host has told the device beyond its settings: whom to hold back, and what each cow usually shows,
//! and which program to run.

use crate::{
    cow_table::CowTable,
    gate::{
        Gate,
        hold_list::{HeldList, ListStore},
    },
    journal::Layout,
    update::Programs,
};
use embedded_storage_async::nor_flash::NorFlash;
use heapless::{Deque, Vec};
use shared::{
    identity::{AnimalCode, REACH_MS, UNSURE_MS},
    lane_score::{Measures, judge},
    limits::MAX_HELD,
    units::Milliseconds,
    wire::{GateSettings, HoldList, LaneAnswer, LaneOrders, Refusal},
};

/// Tags remembered: those of more animals than fit between the reader and the last plate (our choice).
const READS: usize = 4;

/// A passage that waits to be judged.
#[derive(Clone, Copy, Debug)]
pub struct ToJudge {
    /// Its number.
    pub passage: u32,
    /// When it began.
    pub start: Milliseconds,
    /// Whose it is.
    pub code: AnimalCode,
    /// What it measured.
    pub measures: Measures,
}

/// A list whose parts are coming in.
#[derive(Debug)]
struct ComingList {
    list: u32,
    next: u8,
    codes: Vec<AnimalCode, MAX_HELD>,
}

/// What was told.
pub struct Orders {
    /// The gate.
    pub gate: Gate,
    /// Its lists in flash.
    pub lists: ListStore,
    /// The table of cows.
    pub table: CowTable,
    /// The programs of the device.
    pub programs: Programs,
    coming: ComingList,
    reads: Deque<(AnimalCode, Milliseconds), READS>,
    /// Whose the last passage was, and when her tag was read last.
    named: Option<AnimalCode>,
}

impl Orders {
    /// Nothing is known of the flash yet: for a board that makes it where it is to stay.
    #[must_use]
    pub const fn closed(layout: &Layout) -> Self {
        let [list, other] = &layout.lists;
        let [table, next] = &layout.tables;
        Self {
            gate: Gate::new(),
            lists: ListStore::new([list.start..list.end, other.start..other.end]),
            table: CowTable::new([table.start..table.end, next.start..next.end]),
            programs: Programs::closed(layout),
            coming: ComingList { list: 0, next: 0, codes: Vec::new() },
            reads: Deque::new(),
            named: None,
        }
    }

    /// Reads what the flash holds.
    #[inline(never)]
    pub fn start<F: NorFlash>(&mut self, flash: &mut F, gate: Option<GateSettings>) {
        self.gate.set(gate);
        self.lists.load(flash, &mut self.gate.list);
        self.table.load(flash);
        self.programs.start(flash);
    }

    /// Another host has the device: nothing of before holds.
    #[inline(never)]
    pub fn forget<F: NorFlash>(&mut self, flash: &mut F) {
        self.gate.rest();
        self.table.forget(flash);
        self.programs.forget();
        let none = HeldList::default();
        // Where the flash fails the list stays, not in force, for another host to replace.
        if self.gate.list != none && self.lists.save(flash, &none) {
            self.gate.replace(none);
        }
    }

    /// A part of a list comes in. A first part begins anew, whatever was coming.
    ///
    /// # Errors
    /// The list makes no sense or could not be written; the one before stays.
    #[inline(never)]
    pub fn hold_list<F: NorFlash>(&mut self, flash: &mut F, part: &HoldList) -> Result<(), Refusal> {
        if self.gate.settings().is_none() {
            return Err(Refusal::BadGate);
        }
        if part.list == self.gate.list.list && part.list != 0 {
            return Ok(());
        }
        if part.part == 0 {
            (self.coming.list, self.coming.next) = (part.list, 0);
            self.coming.codes.clear();
        }
        let follows = part.list != 0 && part.list == self.coming.list && part.part == self.coming.next;
        let whole = self.coming.codes.extend_from_slice(&part.codes).is_ok();
        if !follows || !whole || part.part >= part.parts {
            self.coming.list = 0;
            return Err(Refusal::BadList);
        }
        self.coming.next += 1;
        if self.coming.next < part.parts {
            return Ok(());
        }
        let list = HeldList::new(part.list, part.most, core::mem::take(&mut self.coming.codes));
        self.coming.list = 0;
        if !self.lists.save(flash, &list) {
            return Err(Refusal::NotStored);
        }
        self.gate.replace(list);
        Ok(())
    }

    /// A tag was read, not the one before again.
    pub fn read(&mut self, time: Milliseconds, code: AnimalCode) {
        if self.reads.is_full() {
            self.reads.pop_front();
        }
        let _ = self.reads.push_back((code, time));
    }

    /// Whose passage it was, where one tag alone fits.
    #[inline(never)]
    pub fn name(&mut self, start: Milliseconds, end: Milliseconds) -> Option<AnimalCode> {
        // In reach, and how far: a second after the first foot counts half, as on the host.
        let price = |time: Milliseconds| {
            let before = start.since(time).0;
            let far = if time > end { u64::MAX } else { before.max(time.since(start).0 / 2) };
            (before <= REACH_MS).then_some(far)
        };
        let last = self.named.take();
        let mut best: Option<(AnimalCode, u64)> = None;
        let mut second = u64::MAX;
        for (code, time) in &self.reads {
            // The cow before may still stand at the reader.
            let Some(price) = price(*time).filter(|_| last != Some(*code)) else { continue };
            match best {
                Some((known, least)) if known == *code => best = Some((known, least.min(price))),
                Some((_, least)) if price >= least => second = second.min(price),
                before => {
                    second = before.map_or(second, |(_, least)| second.min(least));
                    best = Some((*code, price));
                }
            }
        }
        let (code, least) = best.filter(|(_, least)| *least != u64::MAX)?;
        self.named = Some(code);
        (second.saturating_sub(least) >= UNSURE_MS).then_some(code)
    }

    /// What is said of a cow by her passage; nothing of one who is not in the table.
    #[inline(never)]
    pub fn answer<F: NorFlash>(&self, flash: &mut F, boot: u32, passage: &ToJudge) -> Option<LaneAnswer> {
        let (head, row) = self.table.find(flash, passage.code)?;
        let judged = judge(head, &row, &passage.measures);
        Some(LaneAnswer {
            boot,
            passage: passage.passage,
            start: passage.start,
            code: passage.code,
            table: head.table,
            flag: judged.flag,
            probability: judged.probability,
            leg: judged.leg,
        })
    }

    /// What the device was told.
    #[must_use]
    pub fn state(&self, timer: Milliseconds) -> LaneOrders {
        let (coming, next_row) = self.table.coming();
        LaneOrders {
            gate: self.gate.settings(),
            list: self.gate.list.list,
            listed: u8::try_from(self.gate.list.codes.len()).unwrap_or(u8::MAX),
            held: u8::try_from(self.gate.list.held()).unwrap_or(u8::MAX),
            in_force: self.gate.in_force(timer),
            table: self.table.name(),
            coming,
            next_row,
        }
    }
}

#[cfg(test)]
mod tests;
