//! Settings in flash: two copies, each with a generation and a CRC, so that a torn write leaves the other.
//!
//! A copy is `generation u32, length u16, settings, key of the link (option), how the gate is driven (option), CRC-32/ISCSI of
//! all before`, little-endian, the three in postcard, at the start of its page. Copies of older firmware end sooner.

use crate::journal::Layout;
use core::ops::Range;
use embassy_futures::block_on;
use embedded_storage_async::nor_flash::NorFlash;
use heapless::String;
use shared::{
    limits::{MAX_NAME_BYTES, MAX_RATE_HZ},
    plate::PerPlate,
    units::Counts,
    wire::{GateSettings, LinkKey, Settings, crc32},
};

/// Load of one count before any calibration, kg: cells of 2,000 kg a plate and 2 mV/V, fed with 3.3 V, at gain
/// 128 (our choice). Not to be trusted: calibrate.
pub const NOMINAL_KG_PER_COUNT: f32 = 2_000.0 * 9.375 / (6.6 * 8_388_608.0);
/// Readings a second before anything is set, Hz.
pub const DEFAULT_RATE_HZ: u16 = 200;
/// Slowest reading rate the device takes, Hz: the two-wire converters' faster rate.
pub const MIN_DEVICE_RATE_HZ: u16 = 80;
/// Heaviest load one count may mean, kg: a converter this coarse could not weigh (our choice).
const MAX_KG_PER_COUNT: f32 = 1.0;

const HEAD_BYTES: usize = 6;
const CHECK_BYTES: usize = 4;
/// Room for the longest settings: 24 bytes of name, 16 coefficients, four zeros, a rate; the key of the link; the gate.
const BODY_BYTES: usize = 3 + 4 * 5 + 16 * 4 + 1 + MAX_NAME_BYTES + 1 + 32 + (1 + 1 + 3 * 3 + 5 + 4);
const COPY_BYTES: usize = (HEAD_BYTES + BODY_BYTES + CHECK_BYTES).next_multiple_of(32);

/// Why settings were not stored; what was in force before still is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StoreError {
    /// Out of range.
    Bad,
    /// The flash failed.
    Flash,
}

/// What is in force where nothing was ever set.
#[must_use]
pub fn factory() -> Settings {
    let mut kg_per_count = [[0.0; 4]; 4];
    for (n, row) in kg_per_count.iter_mut().enumerate() {
        if let Some(own) = row.get_mut(n) {
            *own = NOMINAL_KG_PER_COUNT;
        }
    }
    Settings { rate_hz: DEFAULT_RATE_HZ, zero: PerPlate([Counts(0); 4]), kg_per_count, name: String::new() }
}

/// Whether settings can be worked with.
#[must_use]
pub fn valid(settings: &Settings) -> bool {
    let rate = settings.rate_hz >= MIN_DEVICE_RATE_HZ && f32::from(settings.rate_hz) <= MAX_RATE_HZ;
    let finite = settings.kg_per_count.iter().flatten().all(|k| k.is_finite() && k.abs() <= MAX_KG_PER_COUNT);
    let live =
        settings.kg_per_count.iter().enumerate().all(|(n, row)| row.get(n).is_some_and(|own| *own != 0.0));
    rate && finite && live
}

/// The settings in flash.
pub struct Store {
    copies: [Range<u32>; 2],
    generation: u32,
    /// The copy that holds the settings in force; the other one is written next.
    current: usize,
    key: Option<LinkKey>,
    gate: Option<GateSettings>,
}

impl Store {
    /// Loads the newest whole copy; factory settings where there is none.
    pub fn load<F: NorFlash>(flash: &mut F, layout: &Layout) -> (Self, Settings) {
        let mut store =
            Self { copies: layout.settings.clone(), generation: 0, current: 1, key: None, gate: None };
        let mut settings = None;
        for (n, copy) in layout.settings.iter().enumerate() {
            if let Some(found) = read(flash, copy)
                && (settings.is_none() || found.generation > store.generation)
            {
                (store.generation, store.current) = (found.generation, n);
                (store.key, store.gate) = (found.key, found.gate);
                settings = Some(found.settings);
            }
        }
        (store, settings.unwrap_or_else(factory))
    }

    /// The key of the link; none where the device was not paired.
    #[must_use]
    pub const fn key(&self) -> Option<LinkKey> {
        self.key
    }

    /// Pairs the device with a host, or takes the pairing back.
    ///
    /// # Errors
    /// The flash failed; then the old key stays.
    pub fn pair<F: NorFlash>(
        &mut self,
        flash: &mut F,
        settings: &Settings,
        key: LinkKey,
    ) -> Result<(), StoreError> {
        let before = core::mem::replace(&mut self.key, (key != LinkKey::NONE).then_some(key));
        self.save(flash, settings).inspect_err(|_| self.key = before)
    }

    /// How the gate is driven; none where there is no gate.
    #[must_use]
    pub const fn gate(&self) -> Option<GateSettings> {
        self.gate
    }

    /// Sets how the gate is driven, or that there is none.
    ///
    /// # Errors
    /// Out of range, or the flash failed; then what was set before stays.
    pub fn set_gate<F: NorFlash>(
        &mut self,
        flash: &mut F,
        settings: &Settings,
        gate: Option<GateSettings>,
    ) -> Result<(), StoreError> {
        if !gate.is_none_or(|gate| gate.valid()) {
            return Err(StoreError::Bad);
        }
        let before = core::mem::replace(&mut self.gate, gate);
        self.save(flash, settings).inspect_err(|_| self.gate = before)
    }

    /// Writes settings over the older copy, and reads them back.
    ///
    /// # Errors
    /// They are out of range, or the flash failed.
    pub fn save<F: NorFlash>(&mut self, flash: &mut F, settings: &Settings) -> Result<(), StoreError> {
        if !valid(settings) {
            return Err(StoreError::Bad);
        }
        let generation = self.generation.saturating_add(1);
        let place = 1 - self.current.min(1);
        let copy = self.copies.get(place).ok_or(StoreError::Flash)?;
        let mut bytes = [0xFF; COPY_BYTES];
        let length =
            encode(generation, settings, (self.key, self.gate), &mut bytes).ok_or(StoreError::Bad)?;
        let written = bytes.get(..length.next_multiple_of(F::WRITE_SIZE)).ok_or(StoreError::Bad)?;
        block_on(async {
            flash.erase(copy.start, copy.end).await?;
            flash.write(copy.start, written).await
        })
        .map_err(|_| StoreError::Flash)?;
        match read(flash, copy) {
            Some(found)
                if found.generation == generation
                    && found.settings == *settings
                    && (found.key, found.gate) == (self.key, self.gate) =>
            {
                (self.generation, self.current) = (generation, place);
                Ok(())
            }
            _ => Err(StoreError::Flash),
        }
    }
}

fn encode(
    generation: u32,
    settings: &Settings,
    (key, gate): (Option<LinkKey>, Option<GateSettings>),
    out: &mut [u8; COPY_BYTES],
) -> Option<usize> {
    let length = postcard::to_slice(&(settings, key, gate), out.get_mut(HEAD_BYTES..)?).ok()?.len();
    out.get_mut(..4)?.copy_from_slice(&generation.to_le_bytes());
    out.get_mut(4..HEAD_BYTES)?.copy_from_slice(&u16::try_from(length).ok()?.to_le_bytes());
    let end = HEAD_BYTES + length;
    let check = crc32(out.get(..end)?).to_le_bytes();
    out.get_mut(end..end + CHECK_BYTES)?.copy_from_slice(&check);
    Some(end + CHECK_BYTES)
}

/// What a copy holds.
struct HeldCopy {
    generation: u32,
    settings: Settings,
    key: Option<LinkKey>,
    gate: Option<GateSettings>,
}

fn read<F: NorFlash>(flash: &mut F, copy: &Range<u32>) -> Option<HeldCopy> {
    let mut bytes = [0; COPY_BYTES];
    block_on(flash.read(copy.start, &mut bytes)).ok()?;
    decode(&bytes)
}

fn decode(bytes: &[u8; COPY_BYTES]) -> Option<HeldCopy> {
    let [g0, g1, g2, g3, l0, l1, ..] = *bytes;
    let end = HEAD_BYTES + usize::from(u16::from_le_bytes([l0, l1]));
    let check = bytes.get(end..)?.first_chunk::<CHECK_BYTES>()?;
    if crc32(bytes.get(..end)?) != u32::from_le_bytes(*check) {
        return None;
    }
    let (settings, rest) = postcard::take_from_bytes(bytes.get(HEAD_BYTES..end)?).ok()?;
    let (key, rest) = if rest.is_empty() { (None, rest) } else { postcard::take_from_bytes(rest).ok()? };
    let gate: Option<GateSettings> = if rest.is_empty() { None } else { postcard::from_bytes(rest).ok()? };
    let generation = u32::from_le_bytes([g0, g1, g2, g3]);
    (valid(&settings) && gate.is_none_or(|gate| gate.valid())).then_some(HeldCopy {
        generation,
        settings,
        key,
        gate,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fakes::{FailingFlash, GATE};
    use proptest::prelude::*;
    use shared::units::Kilograms;

    fn layout() -> Layout {
        Layout::of::<FailingFlash>(16 * 4096).unwrap()
    }

    fn named(name: &str, zero: i32) -> Settings {
        Settings { name: String::try_from(name).unwrap(), zero: PerPlate([Counts(zero); 4]), ..factory() }
    }

    const LONGEST_GATE: GateSettings = GateSettings {
        moves_high: true,
        delay_ms: u16::MAX,
        pulse_ms: u16::MAX,
        hold_ms: u32::MAX,
        silence_s: u16::MAX,
        first_kg: Kilograms(f32::MAX),
    };

    #[test]
    fn the_longest_settings_fit() {
        let mut settings = named("abcdefghijklmnopqrstuvwx", i32::MIN);
        settings.rate_hz = u16::MAX;
        let more = (Some(LinkKey([0xFF; 32])), Some(LONGEST_GATE));
        let length = encode(u32::MAX, &settings, more, &mut [0; COPY_BYTES]);
        // 6 of the head; 3 + 4 * 5 + 16 * 4 + 25, 33 and 20 of settings, key and gate; 4 of the check: 175. Six words of 32.
        assert_eq!((length, COPY_BYTES), (Some(175), 192));
        assert_eq!(HEAD_BYTES + BODY_BYTES + CHECK_BYTES, 175);
    }

    #[test]
    fn a_copy_out_of_range_is_none_whichever_part_of_it_is() {
        let decoded = |settings: &Settings, gate| {
            let mut bytes = [0xFF; COPY_BYTES];
            encode(7, settings, (None, gate), &mut bytes).unwrap();
            decode(&bytes).map(|held| held.generation)
        };
        let slow = Settings { rate_hz: 79, ..factory() };
        assert_eq!(decoded(&factory(), Some(GATE)), Some(7));
        assert_eq!(decoded(&factory(), None), Some(7));
        assert_eq!(decoded(&slow, None), None);
        assert_eq!(decoded(&slow, Some(GATE)), None);
        assert_eq!(decoded(&factory(), Some(GateSettings { pulse_ms: 49, ..GATE })), None);
    }

    #[test]
    fn an_empty_flash_gives_factory_settings() {
        let (_, settings) = Store::load(&mut FailingFlash::new(16), &layout());
        assert_eq!(settings, factory());
        assert!(valid(&settings));
    }

    #[test]
    fn a_power_cut_at_any_byte_leaves_the_old_or_the_new() {
        let mut flash = FailingFlash::new(16);
        let (mut store, _) = Store::load(&mut flash, &layout());
        store.save(&mut flash, &named("first", 1)).unwrap();
        store.save(&mut flash, &named("old", 2)).unwrap();
        let used = flash.used;
        store.save(&mut flash.clone(), &named("new", 3)).unwrap();
        let mut whole = flash.clone();
        let (mut store, _) = Store::load(&mut whole, &layout());
        store.save(&mut whole, &named("new", 3)).unwrap();
        let cost = whole.used - used;
        for cut in 0..=cost {
            let mut torn = flash.clone();
            let (mut store, _) = Store::load(&mut torn, &layout());
            torn.die_after(cut);
            let saved = store.save(&mut torn, &named("new", 3));
            torn.revive();
            let (mut store, settings) = Store::load(&mut torn, &layout());
            let expected = if saved.is_ok() || cut == cost { "new" } else { "old" };
            assert_eq!(settings.name, expected, "cut after {cut} of {cost}");
            store.save(&mut torn, &named("again", 4)).unwrap();
            assert_eq!(Store::load(&mut torn, &layout()).1.name, "again");
        }
    }

    #[test]
    fn a_key_stays_with_the_settings_until_it_is_taken_back() {
        let mut flash = FailingFlash::new(16);
        let (mut store, settings) = Store::load(&mut flash, &layout());
        assert_eq!(store.key(), None);
        let key = LinkKey([5; 32]);
        store.pair(&mut flash, &settings, key).unwrap();
        store.save(&mut flash, &named("later", 1)).unwrap();
        let (mut store, settings) = Store::load(&mut flash, &layout());
        assert_eq!((store.key(), settings.name.as_str()), (Some(key), "later"));
        // Where the flash fails the old key stays in force.
        flash.die_after(0);
        assert_eq!(store.pair(&mut flash, &settings, LinkKey([6; 32])), Err(StoreError::Flash));
        assert_eq!(store.key(), Some(key));
        flash.revive();
        store.pair(&mut flash, &settings, LinkKey::NONE).unwrap();
        assert_eq!(Store::load(&mut flash, &layout()).0.key(), None);
    }

    #[test]
    fn settings_of_older_firmware_hold_no_key() {
        let mut bytes = [0xFF; COPY_BYTES];
        let length = postcard::to_slice(&factory(), &mut bytes[HEAD_BYTES..]).unwrap().len();
        bytes[..4].copy_from_slice(&7_u32.to_le_bytes());
        bytes[4..HEAD_BYTES].copy_from_slice(&(length as u16).to_le_bytes());
        let check = crc32(&bytes[..HEAD_BYTES + length]).to_le_bytes();
        bytes[HEAD_BYTES + length..HEAD_BYTES + length + CHECK_BYTES].copy_from_slice(&check);
        let held = decode(&bytes).unwrap();
        assert_eq!((held.generation, held.settings, held.key), (7, factory(), None));
    }

    #[test]
    fn a_gate_stays_with_settings_and_key_and_copies_without_one_have_none() {
        let gate = GateSettings {
            moves_high: false,
            delay_ms: 4_000,
            pulse_ms: 800,
            hold_ms: 15_000,
            silence_s: 300,
            first_kg: Kilograms(20.0),
        };
        let mut flash = FailingFlash::new(16);
        let (mut store, settings) = Store::load(&mut flash, &layout());
        store.pair(&mut flash, &settings, LinkKey([5; 32])).unwrap();
        assert_eq!(Store::load(&mut flash, &layout()).0.gate(), None);
        store.set_gate(&mut flash, &settings, Some(gate)).unwrap();
        store.save(&mut flash, &named("later", 1)).unwrap();
        let (mut store, settings) = Store::load(&mut flash, &layout());
        assert_eq!((store.gate(), store.key()), (Some(gate), Some(LinkKey([5; 32]))));
        let bad = GateSettings { pulse_ms: 49, ..gate };
        assert_eq!(store.set_gate(&mut flash, &settings, Some(bad)), Err(StoreError::Bad));
        flash.die_after(0);
        assert_eq!(store.set_gate(&mut flash, &settings, None), Err(StoreError::Flash));
        assert_eq!(store.gate(), Some(gate), "what was set stays");
        flash.revive();
        store.set_gate(&mut flash, &settings, None).unwrap();
        assert_eq!(Store::load(&mut flash, &layout()).0.gate(), None);
    }

    #[test]
    fn settings_out_of_range_change_nothing() {
        let mut flash = FailingFlash::new(16);
        let (mut store, _) = Store::load(&mut flash, &layout());
        store.save(&mut flash, &named("good", 0)).unwrap();
        let spoil: [fn(&mut Settings); 5] = [
            |s| s.rate_hz = 79,
            |s| s.rate_hz = 1_001,
            |s| s.kg_per_count[1][2] = f32::NAN,
            |s| s.kg_per_count[0][0] = 2.0,
            |s| s.kg_per_count[3][3] = 0.0,
        ];
        for change in spoil {
            let mut bad = factory();
            change(&mut bad);
            assert_eq!(store.save(&mut flash, &bad), Err(StoreError::Bad));
        }
        assert_eq!(Store::load(&mut flash, &layout()).1.name, "good");
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        /// Whatever the pages hold, loading gives settings that can be worked with.
        #[test]
        fn any_bytes_load_or_are_refused(bytes in proptest::collection::vec(any::<u8>(), COPY_BYTES)) {
            let mut flash = FailingFlash::new(16);
            flash.bytes()[..COPY_BYTES].copy_from_slice(&bytes);
            prop_assert!(valid(&Store::load(&mut flash, &layout()).1));
        }

        /// Any damage to a copy leaves the other.
        #[test]
        fn any_flipped_bit_leaves_the_other_copy(bit in 0_usize..8 * 60) {
            let mut flash = FailingFlash::new(16);
            let (mut store, _) = Store::load(&mut flash, &layout());
            store.save(&mut flash, &named("older", 1)).unwrap();
            store.save(&mut flash, &named("newer", 2)).unwrap();
            flash.bytes()[4096 + bit / 8] ^= 1 << (bit % 8);
            let (_, settings) = Store::load(&mut flash, &layout());
            prop_assert_eq!(settings.name.as_str(), "older");
        }
    }
}
