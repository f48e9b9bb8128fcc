//! The wire: requests become questions, answers become responses. Nobody holds anybody up: a connection that says nothing
//! costs a little memory, and the store is read on threads of its own.

use crate::serve::answers::{Answers, Asked, Reply};
use crate::serve::forms::MOST_BYTES;
use axum::Router;
use axum::body::{Body, to_bytes};
use axum::extract::{ConnectInfo, Request, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, Uri, header};
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use std::net::{SocketAddr, TcpListener};
use std::sync::Arc;
use std::time::Duration;

/// A form has come in within this, or is none. Our choice: a slow phone at the edge of the network.
const FORM_COMES_IN: Duration = Duration::from_secs(20);
/// Questions answered at the same time; more wait. Our choice: each may hold a day of the farm.
const AT_ONCE: usize = 16;

/// How often it is looked whether the store has changed. Our choice: a cow takes longer to leave.
const LOOK_AGAIN: Duration = Duration::from_millis(500);

/// Sent with every answer: nothing from outside, no script but our own, in no frame.
const HEADERS: [(&str, &str); 4] = [
    (
        "content-security-policy",
        "default-src 'none'; style-src 'unsafe-inline'; script-src 'self'; connect-src 'self'; form-action 'self'; \
         base-uri 'none'; frame-ancestors 'none'",
    ),
    ("x-content-type-options", "nosniff"),
    // Not `no-referrer`: a browser would then send the forms of our own pages with the origin `null`.
    ("referrer-policy", "same-origin"),
    ("cache-control", "no-store"),
];

/// Answers until the process is stopped.
pub(super) fn run(listener: TcpListener, answers: Arc<Answers>) -> anyhow::Result<()> {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .max_blocking_threads(AT_ONCE)
        .enable_all()
        .build()?;
    runtime.block_on(async {
        let listener = tokio::net::TcpListener::from_std(listener)?;
        let app = Router::new()
            .route("/live/events", get(events))
            .route("/plates/events", get(plates))
            .fallback(answer)
            .with_state(answers);
        axum::serve(listener, app.into_make_service_with_connect_info::<SocketAddr>()).await?;
        Ok(())
    })
}

/// Server-sent events: one each time the store has changed, for the page of cows as they leave.
async fn events(
    State(answers): State<Arc<Answers>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    headers: HeaderMap,
) -> Response {
    let asked = watching("/live/events".to_owned(), &headers, from);
    let watched = Arc::clone(&answers);
    let may = tokio::task::spawn_blocking(move || watched.may_watch(&asked, jiff::Timestamp::now())).await;
    if !may.unwrap_or(false) {
        return plain(StatusCode::FORBIDDEN);
    }
    let changes = futures_util::stream::unfold((answers.stamp(), answers), |(known, answers)| async move {
        loop {
            tokio::time::sleep(LOOK_AGAIN).await;
            let now = answers.stamp();
            if now != known {
                return Some((event("changed"), (now, answers)));
            }
        }
    });
    stream(changes)
}

/// Server-sent events: what lies on the plates of a lane, each time it has changed.
async fn plates(
    State(answers): State<Arc<Answers>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    headers: HeaderMap,
    uri: Uri,
) -> Response {
    let asked = watching(uri.to_string(), &headers, from);
    let watched = Arc::clone(&answers);
    let looked = tokio::task::spawn_blocking(move || {
        Some((watched.watched(&asked, jiff::Timestamp::now())?, watched.desk()?))
    });
    let Ok(Some((device, desk))) = looked.await else { return plain(StatusCode::FORBIDDEN) };
    let begun = (String::new(), desk, answers);
    let loads = futures_util::stream::unfold(begun, move |(known, mut desk, answers)| async move {
        loop {
            tokio::time::sleep(LOOK_AGAIN).await;
            let asks = Arc::clone(&answers);
            let looked = tokio::task::spawn_blocking(move || {
                let said = asks.plates(&desk, device, jiff::Timestamp::now());
                // Somebody may have made the desk anew.
                let desk = if said.is_some() { Some(desk) } else { asks.desk() };
                desk.map(|desk| (said, desk))
            });
            let said;
            (said, desk) = looked.await.ok().flatten()?;
            if let Some(now) = said.filter(|now| *now != known) {
                return Some((event(&now), (now, desk, answers)));
            }
        }
    });
    stream(loads)
}

/// Somebody who wants to be told.
fn watching(url: String, headers: &HeaderMap, from: SocketAddr) -> Asked {
    Asked { method: "GET".to_owned(), url, ..asked_by(headers, from) }
}

type Told = Result<Event, std::convert::Infallible>;

fn event(data: &str) -> Told {
    Ok(Event::default().data(data))
}

fn stream(events: impl futures_util::Stream<Item = Told> + Send + 'static) -> Response {
    let mut response = Sse::new(events).keep_alive(KeepAlive::default()).into_response();
    for (name, value) in HEADERS {
        response.headers_mut().insert(name, HeaderValue::from_static(value));
    }
    response
}

async fn answer(
    State(answers): State<Arc<Answers>>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    request: Request,
) -> Response {
    let (parts, body) = request.into_parts();
    let form = match tokio::time::timeout(FORM_COMES_IN, to_bytes(body, MOST_BYTES)).await {
        Ok(Ok(bytes)) => String::from_utf8(bytes.into()).ok(),
        _ => None,
    };
    let asked = Asked {
        method: parts.method.as_str().to_owned(),
        url: parts.uri.path_and_query().map_or_else(|| "/".to_owned(), ToString::to_string),
        form,
        ..asked_by(&parts.headers, from)
    };
    let reply = tokio::task::spawn_blocking(move || answers.answer(&asked, jiff::Timestamp::now())).await;
    reply.map_or_else(|_| plain(StatusCode::INTERNAL_SERVER_ERROR), response)
}

/// Who asks, and from where.
fn asked_by(headers: &HeaderMap, from: SocketAddr) -> Asked {
    let text = |name| text_of(headers, name);
    Asked {
        host: text(header::HOST),
        origin: text(header::ORIGIN),
        cookie: text(header::COOKIE),
        from: from.ip().to_string(),
        ..Asked::default()
    }
}

fn text_of(headers: &HeaderMap, name: header::HeaderName) -> Option<String> {
    headers.get(name)?.to_str().ok().map(ToOwned::to_owned)
}

fn response(reply: Reply) -> Response {
    let mut response = Response::builder()
        .status(reply.status)
        .header(header::CONTENT_TYPE, format!("{}; charset=utf-8", reply.kind));
    for (name, value) in HEADERS {
        response = response.header(name, value);
    }
    if let Some(to) = reply.location {
        response = response.header(header::LOCATION, to);
    }
    if let Some(cookie) = reply.cookie {
        response = response.header(header::SET_COOKIE, cookie);
    }
    response.body(Body::from(reply.body)).unwrap_or_else(|_| plain(StatusCode::INTERNAL_SERVER_ERROR))
}

fn plain(status: StatusCode) -> Response {
    let mut response = Response::new(Body::empty());
    *response.status_mut() = status;
    response
}
