//! What a paired device is to be told of its gate and of the cows, said over its session until it has it. Nothing that goes
//! wrong here ends the session.

use crate::link::operator::why;
use crate::link::{Keeper, Now, Session};
use crate::store::{Store, StoreError};
use shared::{
    identity::AnimalCode,
    lane_score::{CowRow, TableHead},
    limits::{MAX_HELD, MAX_HELD_A_PART, MAX_TRACE_DATA_BYTES},
    wire::{
        ConfirmList, DeviceId, DeviceMessage, HoldList, HostMessage, LaneOrders, ORDERS_SCHEMA, Refusal,
        TableRows, crc32,
    },
};

/// A list is confirmed this often, ms, as the format's description has it.
const CONFIRM_MS: u64 = 60_000;
/// A message without an answer is said again after this time, ms; our choice.
const AGAIN_MS: u64 = 3_000;
/// After a refusal that may pass, a pause, ms; our choice: a cow is off the plates soon.
const BUSY_MS: u64 = 2_000;

/// The cows to hold back at a lane.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct WantedList {
    /// Their tags, the most pressing first; those beyond [`MAX_HELD`] are left out.
    pub codes: Vec<AnimalCode>,
    /// How many at most.
    pub most: u8,
    /// When the list is over, UTC, ms since the Unix epoch.
    pub until_ms: i64,
}

/// All that a device is to know.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Wanted {
    /// Whom to hold back; none where nobody is wanted now.
    pub list: Option<WantedList>,
    /// The table of cows: its head and rows, by rising tag. None: the one that it has stays.
    pub table: Option<(TableHead, Vec<CowRow>)>,
}

impl Wanted {
    /// With a table, named by its content: the same table is never sent twice.
    #[must_use]
    pub fn with_table(mut self, mut head: TableHead, rows: Vec<CowRow>) -> Self {
        (head.table, head.rows) = (0, u16::try_from(rows.len()).unwrap_or(u16::MAX));
        let bytes = postcard::to_allocvec(&(head, &rows)).unwrap_or_default();
        head.table = crc32(&bytes).max(1);
        self.table = Some((head, rows));
        self
    }
}

/// What a person may want to know.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Told {
    /// A list is in force at the gate.
    InForce {
        /// Cows on it.
        listed: u8,
    },
    /// The device has a new table.
    Table {
        /// Its rows.
        rows: usize,
    },
    /// The device does not take something, and why.
    Refused(&'static str),
}

/// What was said and waits for its answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Said {
    List,
    Confirm,
    Table,
}

/// The orders, as the session of one device sees them.
#[derive(Debug, Default)]
pub struct OrdersSpoken {
    state: Option<LaneOrders>,
    said: Option<Said>,
    next_at: u64,
    confirm_at: u64,
    /// What was refused, and is not said again: the name of the list, and of the table.
    refused: (u32, u32),
    /// The list and its number, so that the store is asked for that only when the list is another.
    list: Option<(WantedList, u32)>,
    told: Vec<Told>,
}

impl OrdersSpoken {
    /// The device said hello: what it was told may be gone.
    pub fn met(&mut self) {
        *self = Self { told: std::mem::take(&mut self.told), ..Self::default() };
    }

    /// What the device last said.
    #[must_use]
    pub const fn state(&self) -> Option<&LaneOrders> {
        self.state.as_ref()
    }

    /// What happened since the last call.
    pub fn take_told(&mut self) -> Vec<Told> {
        std::mem::take(&mut self.told)
    }

    /// Takes an answer of the device; whether it was for the orders.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn hear<K: Keeper>(
        &mut self,
        session: &Session<K>,
        store: &Store,
        message: &DeviceMessage,
        wanted: &Wanted,
        now: Now,
    ) -> Result<bool, StoreError> {
        match message {
            DeviceMessage::Orders(orders) => {
                let before = self.state.replace(*orders);
                if let Some(device) = session.device().map(|hello| hello.device)
                    && before != Some(*orders)
                {
                    store.put_orders(device, orders, now.utc_ms)?;
                }
                if orders.in_force
                    && !before.is_some_and(|before| before.in_force && before.list == orders.list)
                {
                    self.told.push(Told::InForce { listed: orders.listed });
                }
                let table = wanted.table.as_ref().filter(|table| table.0.table == orders.table);
                if let Some((_, rows)) = table.filter(|_| self.said == Some(Said::Table)) {
                    self.told.push(Told::Table { rows: rows.len() });
                }
                (self.said, self.next_at) = (None, now.monotonic_ms);
                Ok(true)
            }
            DeviceMessage::Refused(refusal) if self.said.is_some() => {
                self.refuse(*refusal, wanted, now);
                Ok(true)
            }
            _ => Ok(false),
        }
    }

    fn refuse(&mut self, refusal: Refusal, wanted: &Wanted, now: Now) {
        let said = self.said.take();
        self.next_at = now.monotonic_ms + BUSY_MS;
        if refusal == Refusal::Busy {
            return;
        }
        match said {
            Some(Said::Table) => self.refused.1 = wanted.table.as_ref().map_or(0, |table| table.0.table),
            _ => self.refused.0 = self.list.as_ref().map_or(0, |list| list.1),
        }
        self.told.push(Told::Refused(why(&refusal)));
    }

    /// Says to the device what it does not have yet. To be called a few times a second.
    ///
    /// # Errors
    /// When the store cannot be read or written.
    pub fn turn<K: Keeper>(
        &mut self,
        session: &mut Session<K>,
        store: &Store,
        wanted: &Wanted,
        now: Now,
    ) -> Result<(), StoreError> {
        let Some(hello) = session.device().filter(|_| session.is_sealed()) else { return Ok(()) };
        let (device, schema) = (hello.device, hello.schema);
        let Some(state) = self.state.filter(|_| schema >= ORDERS_SCHEMA) else { return Ok(()) };
        if now.monotonic_ms < self.next_at {
            return Ok(());
        }
        let list = wanted.list.as_ref().filter(|list| state.gate.is_some() && list.until_ms > now.utc_ms);
        if let Some(list) = list {
            let number = self.number(store, device, list)?;
            if self.refused.0 != number && self.say_list(session, &state, (number, list), now) {
                return Ok(());
            }
        }
        let table = wanted.table.as_ref().filter(|table| table.0.table != state.table);
        if let Some((head, rows)) = table.filter(|table| table.0.table != self.refused.1) {
            session.say(&if state.coming == head.table {
                HostMessage::Rows(next_rows(head.table, state.next_row, rows))
            } else {
                HostMessage::Table(*head)
            });
            self.wait(Said::Table, now);
        }
        Ok(())
    }

    fn number(&mut self, store: &Store, device: DeviceId, list: &WantedList) -> Result<u32, StoreError> {
        if let Some((_, number)) = self.list.as_ref().filter(|known| known.0 == *list) {
            return Ok(*number);
        }
        let number = store.gate_list(device, &content(list))?;
        self.list = Some((list.clone(), number));
        Ok(number)
    }

    /// Says the list that the device does not have, or that it is in force; whether either was due.
    fn say_list<K: Keeper>(
        &mut self,
        session: &mut Session<K>,
        state: &LaneOrders,
        (number, list): (u32, &WantedList),
        now: Now,
    ) -> bool {
        if state.list != number {
            parts(number, list).iter().for_each(|part| session.say(part));
            self.wait(Said::List, now);
        } else if now.monotonic_ms >= self.confirm_at || !state.in_force {
            session.say(&HostMessage::ConfirmList(ConfirmList {
                list: number,
                now_utc_ms: now.utc_ms,
                until_utc_ms: list.until_ms,
            }));
            self.confirm_at = now.monotonic_ms + CONFIRM_MS;
            self.wait(Said::Confirm, now);
        } else {
            return false;
        }
        true
    }

    fn wait(&mut self, said: Said, now: Now) {
        self.said = Some(said);
        self.next_at = now.monotonic_ms + AGAIN_MS;
    }
}

/// All of a list by which it is known.
fn content(list: &WantedList) -> String {
    let codes: Vec<String> = list.codes.iter().take(MAX_HELD).map(ToString::to_string).collect();
    format!("{} {} {}", list.until_ms, list.most, codes.join(" "))
}

fn parts(name: u32, list: &WantedList) -> Vec<HostMessage> {
    let codes = &list.codes[..list.codes.len().min(MAX_HELD)];
    let parts = codes.len().div_ceil(MAX_HELD_A_PART).max(1);
    let part = |part: usize| {
        let from = (part * MAX_HELD_A_PART).min(codes.len());
        let codes = codes[from..].iter().take(MAX_HELD_A_PART).copied().collect();
        HostMessage::HoldList(HoldList {
            list: name,
            part: part as u8,
            parts: parts as u8,
            most: list.most,
            codes,
        })
    };
    (0..parts).map(part).collect()
}

/// As many rows from `first` on as fit a message.
fn next_rows(table: u32, first: u16, rows: &[CowRow]) -> TableRows {
    let mut bytes = heapless::Vec::<u8, MAX_TRACE_DATA_BYTES>::new();
    for row in rows.iter().skip(usize::from(first)) {
        let row = postcard::to_allocvec(row).unwrap_or_default();
        if bytes.extend_from_slice(&row).is_err() {
            break;
        }
    }
    TableRows { table, first, rows: bytes }
}

#[cfg(test)]
mod tests;
