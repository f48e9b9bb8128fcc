//! A file or standard input, counted as it is read.

use crate::import::layout::Layout;
use crate::progress;
use anyhow::Context;
use crc::{CRC_32_ISCSI, Crc, Digest, Table};
use indicatif::ProgressBar;
use jiff::Timestamp;
use std::{
    fs::File,
    io::{self, Read},
    path::Path,
    sync::{Arc, Mutex, MutexGuard, PoisonError},
};

static CRC: Crc<u32, Table<16>> = Crc::<u32, Table<16>>::new(&CRC_32_ISCSI);

/// What was read so far.
struct BytesRead {
    bytes: u64,
    digest: Digest<'static, u32, Table<16>>,
}

/// Bytes read from an [`Input`] and their CRC-32/ISCSI; can be asked while or after the input is read.
#[derive(Clone)]
pub struct Checksummed(Arc<Mutex<BytesRead>>);

impl Checksummed {
    fn tally(&self) -> MutexGuard<'_, BytesRead> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Bytes read.
    #[must_use]
    pub fn bytes(&self) -> u64 {
        self.tally().bytes
    }

    /// CRC-32/ISCSI of the bytes read.
    #[must_use]
    pub fn crc32(&self) -> u32 {
        self.tally().digest.clone().finalize()
    }
}

/// A file or standard input.
pub struct Input {
    /// Its name in messages.
    pub name: String,
    /// The moment of the import: later times by more than a day are refused.
    pub now: Timestamp,
    /// What was said of the file's form.
    pub layout: Layout,
    reader: Box<dyn Read + Send>,
    counted: Checksummed,
    bar: ProgressBar,
}

impl Input {
    /// Opens a file; `-` is standard input.
    ///
    /// # Errors
    /// When it cannot be opened or is a folder.
    pub fn open(path: &Path) -> anyhow::Result<Self> {
        if path == Path::new("-") {
            return Ok(Self::of("standard input", Box::new(io::stdin()), None));
        }
        let cannot = || format!("cannot read {}", path.display());
        let file = File::open(path).with_context(cannot)?;
        let about = file.metadata().with_context(cannot)?;
        anyhow::ensure!(!about.is_dir(), "cannot read {}: it is a folder; name a file", path.display());
        let name = path.display().to_string();
        Ok(Self::of(&name, Box::new(file), Some(about.len()).filter(|length| *length > 0)))
    }

    /// An input of anything that can be read.
    #[must_use]
    pub fn of(name: &str, reader: Box<dyn Read + Send>, length: Option<u64>) -> Self {
        let tally = BytesRead { bytes: 0, digest: CRC.digest() };
        let short = Path::new(name).file_name().map_or(name.into(), |file| file.to_string_lossy());
        Self {
            name: name.to_owned(),
            now: Timestamp::now(),
            layout: Layout::default(),
            reader,
            counted: Checksummed(Arc::new(Mutex::new(tally))),
            bar: progress::bytes(&short, length),
        }
    }

    /// The same, at another moment.
    #[must_use]
    pub fn at(mut self, now: Timestamp) -> Self {
        self.now = now;
        self
    }

    /// A hold on what is counted.
    #[must_use]
    pub fn counted(&self) -> Checksummed {
        self.counted.clone()
    }
}

impl Read for Input {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let length = self.reader.read(buffer)?;
        let mut tally = self.counted.tally();
        tally.bytes += length as u64;
        tally.digest.update(&buffer[..length]);
        drop(tally);
        self.bar.inc(length as u64);
        Ok(length)
    }
}

impl Drop for Input {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}
