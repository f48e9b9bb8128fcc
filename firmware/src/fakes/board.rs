//! A whole lane device in memory, whose power can be cut.

use super::{FakePort, SharedFlash};
use crate::{
    journal::{Journal, JournalError, Layout},
    orders::Orders,
    scale::{Identity, Scale},
    settings::Store,
};
use shared::{
    analysis::Analyser,
    wire::{DeviceId, ResetCause},
};
use std::boxed::Box;

/// A device between two boots: the flash is what lasts.
pub struct Board {
    /// The application.
    pub scale: Scale<'static, FakePort, SharedFlash>,
    /// The line to the host.
    pub port: FakePort,
    /// The flash.
    pub flash: SharedFlash,
    layout: Layout,
}

impl Board {
    /// Brings the power.
    ///
    /// # Errors
    /// The journal does not open.
    pub fn boot(flash: SharedFlash, port: FakePort, reset: ResetCause) -> Result<Self, JournalError> {
        let layout = Layout::of::<SharedFlash>(flash.capacity()).map_err(|_| JournalError::Corrupt)?;
        let mut journal = Journal::open(flash.clone(), &layout)?;
        let settings = Store::load(journal.flash(), &layout);
        let identity =
            Identity { device: DeviceId(0xFA4E), firmware: [0, 1, 0], reset, full_scale: 0x7F_FFFF };
        // Lent for ever, as on a board; a test boots few times and then is over.
        let journal = Box::leak(Box::new(journal));
        let analyser = Box::leak(Box::new(Analyser::new(f32::from(settings.1.rate_hz))));
        let orders = Box::leak(Box::new(Orders::closed(&layout)));
        orders.start(journal.flash(), settings.0.gate());
        let scale = Scale::new(identity, port.clone(), journal, settings, analyser, orders);
        Ok(Self { scale, port, flash, layout })
    }

    /// Cuts the power and brings it back. What was on the line is gone.
    ///
    /// # Errors
    /// The journal does not open.
    pub fn reboot(&mut self, reset: ResetCause) -> Result<(), JournalError> {
        *self = Self::boot(self.flash.clone(), FakePort::default(), reset)?;
        Ok(())
    }

    /// Where things are in the flash.
    #[must_use]
    pub const fn layout(&self) -> &Layout {
        &self.layout
    }
}
