//! Who is looking: passwords, sessions with an end, and a limit on guesses.

use crate::record::person::{Person, Role};
use crate::serve::{Refused, same, secret};
use crate::store::Store;
use argon2::Argon2;
use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher, PasswordVerifier};
use jiff::{SignedDuration, Timestamp};
use std::collections::HashMap;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// A session ends after this. Our choice: a working day.
const LASTS: SignedDuration = SignedDuration::from_hours(12);
/// Sessions kept at most; the oldest goes. Our choice.
const MOST_SESSIONS: usize = 200;
/// So many wrong passwords for a name, or from an address, and no more are tried for [`BARRED`]. Our choice.
const GUESSES: u32 = 5;
const BARRED: SignedDuration = SignedDuration::from_mins(5);
/// Characters of a password at least. Our choice.
pub const LEAST_PASSWORD: usize = 10;

/// A password as it is kept.
///
/// # Errors
/// When it is too short, or this machine has no random numbers.
pub fn hashed(password: &str) -> anyhow::Result<String> {
    anyhow::ensure!(
        password.chars().count() >= LEAST_PASSWORD,
        "a password has at least {LEAST_PASSWORD} characters"
    );
    let hash: PasswordHash = Argon2::default().hash_password(password.as_bytes())?;
    Ok(hash.to_string())
}

/// One person's session.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct LogIn {
    pub who: String,
    pub role: Role,
    /// What her forms bring.
    pub form_token: String,
    until: Timestamp,
}

/// Wrong passwords of late, and when the last was.
type Guesses = HashMap<String, (u32, Timestamp)>;

/// Everybody who is logged in.
#[derive(Default)]
pub(super) struct Sessions {
    by_cookie: Mutex<HashMap<String, LogIn>>,
    guesses: Mutex<Guesses>,
    /// Passwords are tried one at a time: each takes 19 MiB.
    trying: Mutex<()>,
}

fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Sessions {
    /// Tries a password; gives back the cookie of a new session.
    pub fn log_in(
        &self,
        store: &Store,
        name: &str,
        password: &str,
        from: &str,
        now: Timestamp,
    ) -> Result<String, Refused> {
        let keys = [format!("name {name}"), format!("from {from}")];
        {
            let mut guesses = held(&self.guesses);
            guesses.retain(|_, (_, last)| now.duration_since(*last) < BARRED);
            if keys.iter().any(|key| guesses.get(key).is_some_and(|(count, _)| *count >= GUESSES)) {
                return Err((429, "page-barred"));
            }
        }
        let _one = held(&self.trying);
        let person = store.person(name).map_err(|_| (503, "page-busy"))?;
        if !person.as_ref().is_some_and(|person| knows(person, password)) {
            let mut guesses = held(&self.guesses);
            for key in keys {
                let (count, last) = guesses.entry(key).or_insert((0, now));
                (*count, *last) = (*count + 1, now);
            }
            return Err((403, "page-wrong-password"));
        }
        held(&self.guesses).remove(&keys[0]);
        let (Some(cookie), Some(form_token), Some(person)) = (secret(), secret(), person) else {
            return Err((503, "page-busy"));
        };
        let mut sessions = held(&self.by_cookie);
        sessions.retain(|_, session| session.until > now);
        if sessions.len() >= MOST_SESSIONS
            && let Some(oldest) =
                sessions.iter().min_by_key(|(_, session)| session.until).map(|(cookie, _)| cookie.clone())
        {
            sessions.remove(&oldest);
        }
        let session = LogIn { who: person.name, role: person.role, form_token, until: now + LASTS };
        sessions.insert(cookie.clone(), session);
        Ok(cookie)
    }

    /// The session of a cookie. Who was taken out, or may do less now, is so at once.
    pub fn of(&self, store: &Store, cookie: &str, now: Timestamp) -> Option<LogIn> {
        let session = {
            let sessions = held(&self.by_cookie);
            let found = sessions.iter().find(|(known, _)| same(known, cookie));
            found.map(|(_, session)| session.clone()).filter(|session| session.until > now)?
        };
        let person = store.person(&session.who).ok()??;
        Some(LogIn { role: person.role, ..session })
    }

    /// Ends a session.
    pub fn log_out(&self, cookie: &str) {
        held(&self.by_cookie).remove(cookie);
    }
}

fn knows(person: &Person, password: &str) -> bool {
    PasswordHash::new(&person.password)
        .is_ok_and(|hash| Argon2::default().verify_password(password.as_bytes(), &hash).is_ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOW: Timestamp = Timestamp::UNIX_EPOCH;
    const RIGHT: &str = "correct horse";

    fn store() -> Store {
        let store = Store::in_memory().unwrap();
        let password = hashed(RIGHT).unwrap();
        assert!(password.starts_with("$argon2id$") && !password.contains(RIGHT));
        store.put_person(&Person { name: "anna".into(), role: Role::Record, password }).unwrap();
        store
    }

    #[test]
    fn a_session_begins_with_the_right_password_and_ends() {
        let (store, sessions) = (store(), Sessions::default());
        let log_in = |name: &str, password: &str| sessions.log_in(&store, name, password, "a", NOW);
        assert_eq!(log_in("anna", "wrong horse"), Err((403, "page-wrong-password")));
        assert_eq!(log_in("nobody", RIGHT), Err((403, "page-wrong-password")));
        let cookie = log_in("anna", RIGHT).unwrap();
        let of = |cookie: &str, after: SignedDuration| sessions.of(&store, cookie, NOW + after);
        let session = of(&cookie, LASTS - SignedDuration::from_secs(1)).unwrap();
        assert_eq!((session.who.as_str(), session.role), ("anna", Role::Record));
        assert_ne!(session.form_token, cookie);
        assert_eq!(of(&cookie, LASTS), None);
        assert_eq!(of("", SignedDuration::ZERO), None);
        let person = store.person("anna").unwrap().unwrap();
        store.put_person(&Person { role: Role::Look, ..person }).unwrap();
        assert_eq!(of(&cookie, SignedDuration::ZERO).unwrap().role, Role::Look);
        sessions.log_out(&cookie);
        assert_eq!(of(&cookie, SignedDuration::ZERO), None);
        let cookie = log_in("anna", RIGHT).unwrap();
        store.remove_person("anna").unwrap();
        assert_eq!(of(&cookie, SignedDuration::ZERO), None);
    }

    #[test]
    fn guesses_are_limited_by_name_and_by_address() {
        let (store, sessions) = (store(), Sessions::default());
        let log_in = |name: &str, password: &str, from: &str, after| {
            sessions.log_in(&store, name, password, from, NOW + after).map(|_| ()).map_err(|why| why.0)
        };
        let zero = SignedDuration::ZERO;
        for _ in 0..GUESSES {
            assert_eq!(log_in("anna", "wrong", "a", zero), Err(403));
        }
        assert_eq!(log_in("anna", RIGHT, "b", zero), Err(429), "by name");
        assert_eq!(log_in("bert", RIGHT, "a", zero), Err(429), "by address");
        assert_eq!(log_in("bert", RIGHT, "b", zero), Err(403));
        assert_eq!(log_in("anna", RIGHT, "a", BARRED - SignedDuration::from_secs(1)), Err(429));
        assert_eq!(log_in("anna", RIGHT, "a", BARRED), Ok(()));
    }

    #[test]
    fn a_short_password_is_none() {
        assert!(hashed("nine char").is_err());
        assert!(hashed("ten chars.").is_ok());
    }
}
