//! Whose words a device's messages are: from schema 2 on it says after its hello what its journal is called, and only then its
//! boots can be told from those of another journal.

use shared::wire::{DeviceHello, DeviceMessage, JOURNAL_SCHEMA};

/// What a message comes to.
#[derive(Debug, PartialEq)]
#[allow(clippy::large_enum_variant, reason = "taken apart at once")]
pub enum Spoken {
    /// A device said hello; what its journal is called is still to come.
    Coming,
    /// Its journal has no name yet.
    Unnamed,
    /// Hello, its boots counted on from all that were known before.
    Met(DeviceHello),
    /// Anything else, its boots counted on likewise.
    Said(DeviceMessage),
    /// No news.
    Nothing,
}

/// The journal that is spoken of.
#[derive(Debug, Default)]
pub struct JournalSpoken {
    /// Said hello, and not yet what its journal is called.
    coming: Option<DeviceHello>,
    /// From where its boots are counted on.
    base: u32,
}

impl JournalSpoken {
    /// Takes a message; `base_of` says from where the boots of a journal are counted on.
    ///
    /// # Errors
    /// Those of `base_of`.
    pub fn hear<E>(
        &mut self,
        message: DeviceMessage,
        base_of: impl FnOnce(&DeviceHello, u64) -> Result<u32, E>,
    ) -> Result<Spoken, E> {
        Ok(match message {
            DeviceMessage::Hello(hello) if hello.schema >= JOURNAL_SCHEMA => {
                self.coming = Some(hello);
                Spoken::Coming
            }
            DeviceMessage::Hello(hello) => {
                *self = Self::default();
                Spoken::Met(hello)
            }
            DeviceMessage::Journal(0) => Spoken::Unnamed,
            DeviceMessage::Journal(name) => match self.coming.take() {
                Some(mut hello) => {
                    self.base = base_of(&hello, name)?;
                    hello.boot = hello.boot.saturating_add(self.base);
                    Spoken::Met(hello)
                }
                None => Spoken::Nothing,
            },
            message => Spoken::Said(message.counted_from(self.base)),
        })
    }

    /// The device will say hello anew.
    pub fn forget(&mut self) {
        self.coming = None;
    }
}
