//! A whole lane device in memory, whose power can be cut.

use super::{FakePort, SharedFlash};
use crate::{
    journal::{Journal, JournalError, Layout},
    lane::NoWatchdog,
    loader::{Slots, prepare},
    orders::Orders,
    scale::{Identity, Scale},
    settings::Store,
    update::VERSION,
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
    program: u32,
}

impl Board {
    /// Brings the power.
    ///
    /// # Errors
    /// The journal does not open.
    pub fn boot(flash: SharedFlash, port: FakePort, reset: ResetCause) -> Result<Self, JournalError> {
        Self::boot_with(flash, port, reset, 0)
    }

    /// The same with two slots of so many bytes for programs, the active one at the end of the flash; none where it is 0. The
    /// loader runs first.
    ///
    /// # Errors
    /// The journal does not open, or the loader finds no way.
    pub fn boot_with(
        flash: SharedFlash,
        port: FakePort,
        reset: ResetCause,
        program: u32,
    ) -> Result<Self, JournalError> {
        let rest = flash.capacity() - program;
        let layout = match program {
            0 => Layout::of::<SharedFlash>(rest),
            _ => Layout::with_second::<SharedFlash>(rest, program),
        };
        let layout = layout.map_err(|_| JournalError::Corrupt)?;
        if program > 0 {
            let (second, state) = (layout.second.clone(), layout.state.clone());
            let slots = Slots { active: rest..flash.capacity(), second, state };
            prepare(flash.clone(), &slots, NoWatchdog, &mut [0; 256]).map_err(|_| JournalError::Corrupt)?;
        }
        let mut journal = Journal::open(flash.clone(), &layout)?;
        let settings = Store::load(journal.flash(), &layout);
        let identity = Identity {
            device: DeviceId(0xFA4E),
            board: "fake",
            firmware: VERSION,
            reset,
            full_scale: 0x7F_FFFF,
        };
        // Lent for ever, as on a board; a test boots few times and then is over.
        let journal = Box::leak(Box::new(journal));
        let analyser = Box::leak(Box::new(Analyser::new(f32::from(settings.1.rate_hz))));
        let orders = Box::leak(Box::new(Orders::closed(&layout)));
        orders.start(journal.flash(), settings.0.gate());
        let scale = Scale::new(identity, port.clone(), journal, settings, analyser, orders);
        Ok(Self { scale, port, flash, layout, program })
    }

    /// Cuts the power and brings it back. What was on the line is gone.
    ///
    /// # Errors
    /// The journal does not open.
    pub fn reboot(&mut self, reset: ResetCause) -> Result<(), JournalError> {
        *self = Self::boot_with(self.flash.clone(), FakePort::default(), reset, self.program)?;
        Ok(())
    }

    /// Where things are in the flash.
    #[must_use]
    pub const fn layout(&self) -> &Layout {
        &self.layout
    }
}
