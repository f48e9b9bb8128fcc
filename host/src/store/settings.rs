//! Settings of the farm.

use crate::record::ObserverPrior;
use crate::record::day_words::{self, DayOrder};
use crate::record::gate::HoldReason;
use crate::store::{Store, StoreError};
use jiff::tz::TimeZone;
use rusqlite::OptionalExtension;

/// A setting that can be shown and changed.
#[derive(Debug)]
pub struct Setting {
    /// Its key.
    pub key: &'static str,
    /// Its value where none is set.
    pub default: &'static str,
    /// What it is.
    pub about: &'static str,
    /// Says what is wrong with a value.
    pub check: fn(&str) -> Result<(), String>,
}

/// Every setting, in the order shown. The defaults of numbers are our choice.
pub const SETTINGS: &[Setting] = &[
    Setting { key: "name", default: "", about: "the farm's name, printed on lists", check: any },
    Setting {
        key: "language",
        default: "en",
        about: "language of lists, cows and cases: en or de",
        check: |value| one_of(value, &["en", "de"]),
    },
    Setting {
        key: "time_zone",
        default: "UTC",
        about: "IANA time zone of the farm's days, such as Europe/Amsterdam",
        check: time_zone,
    },
    Setting {
        key: "day_order",
        default: "ask",
        about: "how 03/04/2026 is read: day-first, month-first, or ask",
        check: |value| one_of(value, &["ask", "day-first", "month-first"]),
    },
    Setting {
        key: "capacity_a_day",
        default: "10",
        about: "cows that can be looked at in a day",
        check: |value| whole(value, 1, 10_000),
    },
    Setting {
        key: "needless_looks",
        default: "1",
        about: "needless looks accepted, per 100 cows a week: more finds lame cows sooner",
        check: |value| number(value, 0.1, 20.0),
    },
    Setting {
        key: "plates_settled",
        default: "",
        about: "day from which the plates read right, whatever they read before: 2026-03-01",
        check: day,
    },
    Setting {
        key: "keep_traces_days",
        default: "",
        about: "days that the traces of passages are kept (30 or more; empty: all). Passages are kept for ever",
        check: |value| if value.is_empty() { Ok(()) } else { whole(value, 30, 36_500) },
    },
    Setting {
        key: "farm_code",
        default: "",
        about: "the farm's code in data sets that it shares: letters, digits and -",
        check: code,
    },
    Setting {
        key: "shares_with",
        default: "",
        about: "organisations that may have the farm's data, parted by commas; empty: none",
        check: any,
    },
    Setting {
        key: "model_prior",
        default: "",
        about: "settings of the score learned over many farms, as `fleet learn` prints them; empty: the program's own",
        check: prior,
    },
    Setting {
        key: "tell_by",
        default: "",
        about: "program that `fourplate tell` gives its text to: a command line of this machine's shell",
        check: any,
    },
    Setting {
        key: "tell_quiet",
        default: "21:00-05:00",
        about: "hours in which nothing is told, such as 21:00-05:00; empty: none",
        check: hours,
    },
    Setting {
        key: "tell_times_a_day",
        default: "6",
        about: "how often something is told in a day at most; what waits goes out together",
        check: |value| whole(value, 1, 1_000),
    },
    Setting {
        key: "gate_hours",
        default: "",
        about: "hours in which listed cows are held back at a gate, such as 05:00-09:00; empty: none are",
        check: hours,
    },
    Setting {
        key: "gate_most",
        default: "6",
        about: "cows held back at a gate in these hours at most",
        check: |value| whole(value, 1, 48),
    },
    Setting {
        key: "gate_for",
        default: "hand,urgent,dressing,recheck,booked",
        about: "whom a gate holds back: hand, urgent, dressing, recheck, booked",
        check: hold_reasons,
    },
    Setting {
        key: "recheck_days",
        default: "35",
        about: "days from a treatment to the planned recheck (five weeks is common practice)",
        check: |value| whole(value, 1, 365),
    },
    Setting {
        key: "dressing_days",
        default: "2",
        about: "days until a dressing comes off (a day or two: extension advice)",
        check: |value| whole(value, 1, 14),
    },
];

fn one_of(value: &str, of: &[&str]) -> Result<(), String> {
    if of.contains(&value) { Ok(()) } else { Err(format!("`{value}` is none of {}", of.join(", "))) }
}

fn day(value: &str) -> Result<(), String> {
    let wrong = |_| format!("`{value}` is no day such as 2026-03-01");
    if value.is_empty() { Ok(()) } else { value.parse::<jiff::civil::Date>().map(|_| ()).map_err(wrong) }
}

fn hours(value: &str) -> Result<(), String> {
    let good = value.is_empty() || day_words::hours(value).is_some();
    if good { Ok(()) } else { Err(format!("`{value}` is no hours such as 21:00-05:00")) }
}

fn hold_reasons(value: &str) -> Result<(), String> {
    HoldReason::of_list(value).map(|_| ()).map_err(|word| format!("`{word}` is no reason to hold a cow back"))
}

fn code(value: &str) -> Result<(), String> {
    let good = |letter: char| letter.is_ascii_alphanumeric() || letter == '-';
    if value.len() <= 40 && value.chars().all(good) {
        Ok(())
    } else {
        Err(format!("`{value}` is no code of at most 40 letters, digits and -"))
    }
}

fn prior(value: &str) -> Result<(), String> {
    if value.is_empty() || ObserverPrior::from_text(value).is_some() {
        Ok(())
    } else {
        Err(format!("`{value}` is no pair of numbers such as {}", ObserverPrior::default()))
    }
}

fn any(_: &str) -> Result<(), String> {
    Ok(())
}

fn time_zone(value: &str) -> Result<(), String> {
    TimeZone::get(value).map(|_| ()).map_err(|_| {
        format!(
            "`{value}` is no IANA time zone; write a name such as UTC, Europe/Amsterdam or America/Chicago"
        )
    })
}

fn whole(value: &str, least: u32, most: u32) -> Result<(), String> {
    match value.parse::<u32>() {
        Ok(number) if (least..=most).contains(&number) => Ok(()),
        _ => Err(format!("`{value}` is no whole number from {least} to {most}")),
    }
}

fn number(value: &str, least: f64, most: f64) -> Result<(), String> {
    match value.parse::<f64>() {
        Ok(number) if (least..=most).contains(&number) => Ok(()),
        _ => Err(format!("`{value}` is no number from {least} to {most}")),
    }
}

impl Setting {
    /// The setting of a key.
    #[must_use]
    pub fn of(key: &str) -> Option<&'static Self> {
        SETTINGS.iter().find(|setting| setting.key == key)
    }
}

impl Store {
    /// The value set for a key, or its default; `None` for a key that does not exist.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn setting(&self, key: &str) -> Result<Option<String>, StoreError> {
        let stored = self
            .connection
            .prepare_cached("SELECT value FROM settings WHERE key = ?1")?
            .query_row([key], |row| row.get(0))
            .optional()?;
        Ok(stored.or_else(|| Setting::of(key).map(|setting| setting.default.to_owned())))
    }

    /// Sets a value.
    ///
    /// # Errors
    /// When there is no such key, the value is not allowed, or the store cannot be written.
    pub fn set_setting(&self, key: &str, value: &str) -> Result<(), StoreError> {
        let wrong = |reason| StoreError::Setting { key: key.to_owned(), reason };
        let setting = Setting::of(key).ok_or_else(|| {
            let keys: Vec<_> = SETTINGS.iter().map(|setting| setting.key).collect();
            wrong(format!("there is no such setting; there are {}", keys.join(", ")))
        })?;
        (setting.check)(value).map_err(wrong)?;
        self.connection.execute(
            "INSERT INTO settings (key, value) VALUES (?1, ?2)
             ON CONFLICT (key) DO UPDATE SET value = excluded.value",
            [key, value],
        )?;
        Ok(())
    }

    /// Who this store is: drawn by chance when first asked for, and kept.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn identity(&self) -> Result<String, StoreError> {
        self.connection.execute(
            "INSERT INTO settings (key, value) VALUES ('store_identity', lower(hex(randomblob(8))))
             ON CONFLICT (key) DO NOTHING",
            [],
        )?;
        Ok(self.setting("store_identity")?.unwrap_or_default())
    }

    /// Which comes first, day or month, where a date does not say; `None` where the farm did not either.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn day_order(&self) -> Result<Option<DayOrder>, StoreError> {
        Ok(self.setting("day_order")?.as_deref().and_then(DayOrder::from_name))
    }

    /// The time zone of the farm's days.
    ///
    /// # Errors
    /// When the store cannot be read, or this machine does not know the zone.
    pub fn time_zone(&self) -> Result<TimeZone, StoreError> {
        let name = self.setting("time_zone")?.unwrap_or_default();
        TimeZone::get(&name)
            .map_err(|error| StoreError::Setting { key: "time_zone".to_owned(), reason: error.to_string() })
    }
}
