//! What is answered to whom.

mod farms;

use crate::record::AnimalId;
use crate::record::day_words::last_day;
use crate::record::person::{Deed, Role};
use crate::report::exchange::api::{self, ApiReply};
use crate::report::live;
use crate::report::pages::{Page, Pages, View, Viewer, date_of, query_value};
use crate::report::words::Words;
use crate::serve::forms::{self, Taken};
use crate::serve::sessions::Sessions;
use crate::serve::{Refused, lane, same, secret};
use crate::store::Store;
use crate::store::desk::Desk;
use farms::{FarmOfDay, Farms};
use jiff::{Timestamp, civil::Date};
use percent_encoding::{NON_ALPHANUMERIC, utf8_percent_encode};
use shared::wire::DeviceId;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};
use std::time::SystemTime;

/// The cookie of a session.
const COOKIE: &str = "fourplate";

/// A question.
#[derive(Clone, Debug, Default)]
pub(super) struct Asked {
    pub method: String,
    pub url: String,
    pub host: Option<String>,
    pub origin: Option<String>,
    pub cookie: Option<String>,
    /// The address it came from.
    pub from: String,
    /// What came with it; `None` where that was too long, too slow or no text.
    pub form: Option<String>,
}

/// An answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Reply {
    pub status: u16,
    pub kind: &'static str,
    pub body: String,
    pub location: Option<String>,
    pub cookie: Option<String>,
}

impl From<Page> for Reply {
    fn from(page: Page) -> Self {
        Self { status: page.status, kind: "text/html", body: page.body, location: None, cookie: None }
    }
}

impl From<ApiReply> for Reply {
    fn from(reply: ApiReply) -> Self {
        let kind = "application/json";
        Self { status: reply.status, kind, body: reply.body, location: None, cookie: None }
    }
}

pub(super) fn go_to(address: String) -> Reply {
    Reply { status: 303, kind: "text/html", body: String::new(), location: Some(address), cookie: None }
}

/// Passages on the page of cows as they leave. Our choice: a screenful.
const LIVE_PASSAGES: usize = 15;

/// What tells that the store has changed: size and time of its files.
pub(super) type Stamp = [Option<(u64, SystemTime)>; 2];

/// Everything that answers need.
pub(super) struct Answers {
    store: PathBuf,
    pages: Pages,
    /// Whether others on the network can reach the pages; then people log in.
    open: bool,
    /// What forms of this machine bring; `None` without random numbers, and then there are no forms.
    local_token: Option<String>,
    sessions: Sessions,
    farms: Mutex<Farms>,
}

impl Answers {
    pub fn new(store: PathBuf, words: Words, open: bool) -> anyhow::Result<Self> {
        Ok(Self {
            store,
            pages: Pages::new(words)?,
            open,
            local_token: secret(),
            sessions: Sessions::default(),
            farms: Mutex::default(),
        })
    }

    pub fn answer(&self, asked: &Asked, now: Timestamp) -> Reply {
        let nobody = self.pages.view(Viewer::default());
        if !self.is_ours(asked) {
            return nobody.problem(403, "page-local-only").into();
        }
        if asked.url == "/kept.js" {
            let body = include_str!("kept.js").to_owned();
            return Reply { status: 200, kind: "text/javascript", body, location: None, cookie: None };
        }
        let posted = asked.method == "POST";
        let store = Store::open(&self.store).map_err(|_| (503, "page-busy"));
        let Some(viewer) = self.viewer(asked, store.as_ref().ok(), now) else {
            if asked.url.starts_with(api::UNDER) {
                return ApiReply::problem(401, "log_in").into();
            }
            return match (posted, asked.url.as_str()) {
                (true, "/log-in") => store
                    .and_then(|store| self.log_in(asked, &store, now))
                    .unwrap_or_else(|(status, what)| Reply { status, ..nobody.log_in(Some(what)).into() }),
                (_, "/log-in") => nobody.log_in(None).into(),
                (true, _) => nobody.problem(403, "page-old-form").into(),
                _ => go_to("/log-in".to_owned()),
            };
        };
        if asked.url.starts_with(api::UNDER) {
            return self.tell(asked, viewer.today, store).unwrap_or_else(|wrong| wrong).into();
        }
        let view = self.pages.view(viewer);
        let reply =
            if posted { self.take(asked, &view, store, now) } else { self.show(asked, &view, store, now) };
        reply.unwrap_or_else(|(status, what)| view.problem(status, what).into())
    }

    /// Whether somebody may be told when the store changes, as a page is shown.
    pub fn may_watch(&self, asked: &Asked, now: Timestamp) -> bool {
        self.is_ours(asked) && self.viewer(asked, Store::open(&self.store).ok().as_ref(), now).is_some()
    }

    /// The device whose plates somebody wants to watch; `None` where there is none, or nobody may.
    pub fn watched(&self, asked: &Asked, now: Timestamp) -> Option<DeviceId> {
        let store = Store::open(&self.store).ok()?;
        self.may_watch(asked, now).then(|| lane::named(&store, &asked.url)).flatten()
    }

    /// What is on the plates of a device now, as JSON.
    pub fn plates(&self, desk: &Desk, device: DeviceId, now: Timestamp) -> Option<String> {
        let said = lane::now(desk, device, now, &self.pages.view(Viewer::default())).ok()?;
        serde_json::to_string(&said).ok()
    }

    /// The desk that the programs that listen look at.
    pub fn desk(&self) -> Option<Desk> {
        Desk::open(&self.store).ok()
    }

    /// What tells that the store has changed.
    pub fn stamp(&self) -> Stamp {
        stamp(&self.store)
    }

    /// Whether the request was meant for us. Another site's name that was made to point here must not read the farm's
    /// data, nor its pages write.
    fn is_ours(&self, asked: &Asked) -> bool {
        let host = asked.host.as_deref().unwrap_or_default();
        let from =
            asked.origin.as_deref().map(|origin| origin.split_once("://").map_or(origin, |(_, host)| host));
        if self.open {
            from.is_none_or(|from| from == host)
        } else {
            is_local(host) && from.is_none_or(is_local)
        }
    }

    /// Who asks; `None` where a password is needed first.
    fn viewer(&self, asked: &Asked, store: Option<&Store>, now: Timestamp) -> Option<Viewer> {
        let zone = store.and_then(|store| store.time_zone().ok());
        let today = zone.map_or(Date::ZERO, |zone| zone.to_datetime(now).date());
        if !self.open {
            let token = self.local_token.clone();
            return Some(Viewer { token, who: None, role: Some(Role::Administer), today });
        }
        let session = self.sessions.of(store?, cookie(asked)?, now)?;
        let token = Some(session.form_token).filter(|_| session.role >= Role::Record);
        Some(Viewer { token, who: Some(session.who), role: Some(session.role), today })
    }

    fn log_in(&self, asked: &Asked, store: &Store, now: Timestamp) -> Result<Reply, Refused> {
        let form = asked.form.as_ref().ok_or((413, "page-bad-form"))?;
        let value = |name| query_value(form, name).unwrap_or_default();
        let name = value("name");
        let cookie = self.sessions.log_in(store, &name, &value("password"), &asked.from, now)?;
        let _ = store.note_deed(&Deed { at: now, who: name, what: "log-in".to_owned() });
        let cookie = format!("{COOKIE}={cookie}; Path=/; HttpOnly; SameSite=Strict");
        Ok(Reply { cookie: Some(cookie), ..go_to("/".to_owned()) })
    }

    /// Takes a form in.
    fn take(
        &self,
        asked: &Asked,
        view: &View<'_>,
        store: Result<Store, Refused>,
        now: Timestamp,
    ) -> Result<Reply, Refused> {
        let form = asked.form.as_ref().ok_or((413, "page-bad-form"))?;
        if asked.url == "/log-out" {
            if let Some(cookie) = cookie(asked) {
                self.sessions.log_out(cookie);
            }
            return Ok(go_to("/log-in".to_owned()));
        }
        let viewer = view.viewer();
        let Some(token) = &viewer.token else { return Err((403, "page-may-look")) };
        if !same(token, &query_value(form, "token").unwrap_or_default()) {
            return Err((403, "page-old-form"));
        }
        let store = store?;
        let who = viewer.who.clone().unwrap_or_default();
        let note = |what: String| {
            if !who.is_empty() {
                let _ = store.note_deed(&Deed { at: now, who: who.clone(), what });
            }
        };
        match asked.url.as_str() {
            "/mark" => {
                let (marked, undone) = forms::mark(&store, form, &who, now)?;
                let what = if undone { "unmark" } else { "mark" };
                note(format!("{what} {} {}", marked.animal, marked.mark.name()));
                Ok(go_to(format!("/?date={}", marked.date)))
            }
            "/case" => {
                let (animal, taken) = forms::case(&store, form, &who, now)?;
                match taken {
                    Taken::Kept(id) => {
                        if let Some(id) = id {
                            note(format!("case {id}"));
                        }
                        Ok(go_to(format!("/crush?id={}&kept=1", in_address(&animal))))
                    }
                    Taken::Against { what, may_be_so } => {
                        Ok(view.against(&animal, &what, may_be_so, form).into())
                    }
                }
            }
            "/calibrate" => {
                let (reply, deed) = lane::calibrate(&self.store, &store, form, viewer, now)?;
                note(deed);
                Ok(reply)
            }
            _ => Err((404, "page-no-page")),
        }
    }

    fn show(
        &self,
        asked: &Asked,
        view: &View<'_>,
        store: Result<Store, Refused>,
        now: Timestamp,
    ) -> Result<Reply, Refused> {
        if !matches!(asked.method.as_str(), "GET" | "HEAD") {
            return Err((405, "page-read-only"));
        }
        let store = store?;
        if asked.url == "/live" {
            let passings =
                live::latest(&store, view.words(), LIVE_PASSAGES).map_err(|_| (503, "page-busy"))?;
            // Whoever looks at this page wants the desk to be there.
            let desk = Desk::open(&self.store).ok();
            let left = live::just_left(&store, desk.as_ref(), view.words(), now.as_millisecond());
            return Ok(view.live(&passings, &left).into());
        }
        if matches!(asked.url.split('?').next(), Some("/plates" | "/calibrate")) {
            return lane::show(&self.store, &store, &asked.url, view, now);
        }
        let date = date_of(&asked.url);
        if date.is_some_and(|date| date > last_day(view.viewer().today)) {
            return Err((400, "page-to-come"));
        }
        if asked.url.split('?').next() == Some("/visit") {
            return Ok(view.visit(&store, date).into());
        }
        let farm = self.farm(&store, date, &asked.url).map_err(|_| (503, "page-busy"))?;
        Ok(view.answer(&asked.url, farm.as_ref().as_ref(), &store).into())
    }

    /// What a program asks.
    fn tell(&self, asked: &Asked, today: Date, store: Result<Store, Refused>) -> Result<ApiReply, ApiReply> {
        if !matches!(asked.method.as_str(), "GET" | "HEAD") {
            return Err(ApiReply::problem(405, "read_only"));
        }
        let busy = || ApiReply::problem(503, "busy");
        let store = store.map_err(|_| busy())?;
        let date = api::day(&asked.url, last_day(today))?;
        let farm = self.farm(&store, date, &asked.url).map_err(|_| busy())?;
        Ok(api::answer(&asked.url, farm.as_ref().as_ref()))
    }

    /// What an address needs of the farm.
    fn farm(&self, store: &Store, date: Option<Date>, url: &str) -> anyhow::Result<FarmOfDay> {
        let mut farms = self.farms.lock().unwrap_or_else(PoisonError::into_inner);
        farms.get(store, stamp(&self.store), date, url)
    }
}

fn in_address(animal: &AnimalId) -> String {
    utf8_percent_encode(&animal.0, NON_ALPHANUMERIC).to_string()
}

fn cookie(asked: &Asked) -> Option<&str> {
    let all = asked.cookie.as_deref()?;
    all.split(';').find_map(|one| one.trim().strip_prefix(COOKIE)?.strip_prefix('='))
}

fn is_local(host: &str) -> bool {
    let name = host.rsplit_once(':').filter(|(_, port)| port.bytes().all(|b| b.is_ascii_digit()));
    matches!(name.map_or(host, |(name, _)| name), "localhost" | "127.0.0.1" | "[::1]")
}

fn stamp(store: &Path) -> Stamp {
    let log = PathBuf::from(format!("{}-wal", store.display()));
    [store, &log].map(|path| {
        let data = path.metadata().ok()?;
        Some((data.len(), data.modified().ok()?))
    })
}

#[cfg(test)]
mod tests;
