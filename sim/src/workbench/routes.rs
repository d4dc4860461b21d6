//! What is answered to whom: pages, their questions and their changes.
//!
//! HTTP alone; what is done is done by `bench`. Every answer forbids what the page does not need, and none is
//! kept by a browser: the next program at this address may be another one.

use std::sync::Arc;
use std::time::Instant;

use axum::Router;
use axum::body::{Body, Bytes};
use axum::extract::{DefaultBodyLimit, Path, Request, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, Uri, header};
use axum::middleware::{self, Next};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use serde::de::DeserializeOwned;
use serde_json::{Value, json};

use super::bench::Bench;
use super::candidate::Asked;
use super::feeling;
use super::files;
use super::guard;
use super::page_files::page_file;
use super::stream;
use super::wire::{ChangeAsked, ChangesAsked, FeelAsked, PageAsks};
use crate::handover::taken;
use crate::tuning::Draft;

/// Longer than any board file.
const LONGEST_BODY: usize = 1 << 20;

/// What every answer carries.
const ALWAYS: [(header::HeaderName, &str); 5] = [
    (header::CONTENT_SECURITY_POLICY, "default-src 'self'; frame-ancestors 'none'"),
    (header::CACHE_CONTROL, "no-store"),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "no-referrer"),
    (header::X_FRAME_OPTIONS, "DENY"),
];

const JSON: &str = "application/json";

/// All routes, for a server at `port`.
pub(super) fn routes(bench: Arc<Bench>, port: u16) -> Router {
    Router::new()
        .route("/api/board", get(board))
        .route("/api/change", post(change))
        .route("/api/undo", post(undo))
        .route("/api/redo", post(redo))
        .route("/api/reread", post(reread))
        .route("/api/feel", post(feel))
        .route("/api/export/{what}", get(export))
        .route("/api/import", post(import))
        .route("/api/report", get(report))
        .route("/api/events", get(stream::events))
        .route("/api/ride", get(stream::ride))
        .fallback(get(page))
        .layer(DefaultBodyLimit::max(LONGEST_BODY))
        .layer(middleware::from_fn(move |request, next| guarded(port, request, next)))
        .with_state(bench)
}

async fn guarded(port: u16, request: Request, next: Next) -> Response {
    let mut response = match guard::refusal(request.method(), request.headers(), port) {
        Some(why) => told(StatusCode::FORBIDDEN, why),
        None => next.run(request).await,
    };
    for (name, value) in ALWAYS {
        response.headers_mut().insert(name, HeaderValue::from_static(value));
    }
    response
}

fn answered(status: StatusCode, text: String) -> Response {
    (status, [(header::CONTENT_TYPE, JSON)], text).into_response()
}

fn said(value: &Value) -> Response {
    answered(StatusCode::OK, value.to_string())
}

/// An answer that says why there is no other.
pub(super) fn told(status: StatusCode, why: &str) -> Response {
    answered(status, json!({ "why": why }).to_string())
}

/// Why there is no other answer.
#[derive(Debug)]
struct Refusal(StatusCode, String);

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        told(self.0, &self.1)
    }
}

/// A body as what it should say.
fn read<T: DeserializeOwned>(body: &Bytes) -> Result<T, Refusal> {
    serde_json::from_slice(body).map_err(|error| unread(&format!("that cannot be read: {error}")))
}

fn unread(why: &str) -> Refusal {
    Refusal(StatusCode::BAD_REQUEST, why.to_owned())
}

fn cannot_be(why: String) -> Refusal {
    Refusal(StatusCode::UNPROCESSABLE_ENTITY, why)
}

/// Work that would hold other answers up.
async fn aside<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, Refusal> + Send + 'static,
) -> Result<T, Refusal> {
    let done = tokio::task::spawn_blocking(work).await;
    // It fails only where the work panicked.
    done.unwrap_or_else(|error| Err(Refusal(StatusCode::INTERNAL_SERVER_ERROR, error.to_string())))
}

async fn page(uri: Uri) -> Response {
    match page_file(uri.path()) {
        Some(file) => ([(header::CONTENT_TYPE, file.kind)], file.text).into_response(),
        None => told(StatusCode::NOT_FOUND, "there is nothing here"),
    }
}

async fn board(State(bench): State<Arc<Bench>>) -> Response {
    said(&bench.board())
}

async fn change(State(bench): State<Arc<Bench>>, body: Bytes) -> Result<Response, Refusal> {
    let ChangesAsked { revision, changes, page, gesture } = read(&body)?;
    let wishes: Result<Vec<_>, _> = changes.into_iter().map(ChangeAsked::wish).collect();
    let wishes = wishes.map_err(|why| unread(&why))?;
    let asked = Asked { revision, page: &page, gesture: gesture.as_deref(), wishes: &wishes };
    let (behind, answer) = bench.change(&asked).await;
    let status = if behind { StatusCode::CONFLICT } else { StatusCode::OK };
    Ok(answered(status, answer.to_string()))
}

async fn undo(State(bench): State<Arc<Bench>>, body: Bytes) -> Result<Response, Refusal> {
    let PageAsks { page } = read(&body)?;
    Ok(said(&bench.step(true, &page).await))
}

async fn redo(State(bench): State<Arc<Bench>>, body: Bytes) -> Result<Response, Refusal> {
    let PageAsks { page } = read(&body)?;
    Ok(said(&bench.step(false, &page).await))
}

async fn reread(State(bench): State<Arc<Bench>>, body: Bytes) -> Result<Response, Refusal> {
    let PageAsks { page } = read(&body)?;
    let board = aside(move || bench.reread(&page).map_err(|error| cannot_be(error.to_string())));
    Ok(said(&board.await?))
}

async fn feel(State(bench): State<Arc<Bench>>, body: Bytes) -> Result<Response, Refusal> {
    let began = Instant::now();
    let asked: FeelAsked = read(&body)?;
    let (feeling, on_board, candidate, revision) = bench.tried();
    let question = feeling.question(&asked).map_err(|why| unread(&why))?;
    bench.asked_last(asked);
    let both = aside(move || {
        let both = feeling.both((&on_board, &candidate), &question);
        both.map_err(|error| cannot_be(feeling::why_not(&error)))
    });
    let both = both.await?;
    let took_ms = began.elapsed().as_secs_f64() * 1000.0;
    Ok(answered(StatusCode::OK, feeling::answer(revision, took_ms, &both)))
}

async fn export(State(bench): State<Arc<Bench>>, Path(what): Path<String>) -> Response {
    match files::export(&what, &bench.candidate(), &bench.stem()) {
        Some(export) => download(&export.name, export.kind, export.bytes),
        None => {
            told(StatusCode::NOT_FOUND, "board, constant and record are what can be taken away")
        }
    }
}

async fn report(State(bench): State<Arc<Bench>>) -> Result<Response, Refusal> {
    let name = format!("{}.comparison.html", bench.stem());
    let page = aside(move || bench.report().map_err(cannot_be)).await?;
    Ok(download(&name, "text/html; charset=utf-8", page.into_bytes()))
}

/// A file to be saved; a name has plain letters only, whatever the board file is called.
fn download(name: &str, kind: &'static str, bytes: Vec<u8>) -> Response {
    let plain = |c: char| if c.is_ascii_alphanumeric() || "._-".contains(c) { c } else { '_' };
    let name: String = name.chars().map(plain).collect();
    let mut response = Response::new(Body::from(bytes));
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    if let Ok(value) = HeaderValue::from_str(&format!("attachment; filename=\"{name}\"")) {
        headers.insert(header::CONTENT_DISPOSITION, value);
    }
    response
}

async fn import(State(bench): State<Arc<Bench>>, headers: HeaderMap, body: Bytes) -> Response {
    let word = |name: &str| {
        headers.get(name).and_then(|value| value.to_str().ok()).unwrap_or_default().to_owned()
    };
    let file_name = decoded(&word("x-file-name"));
    let with = |draft: &Draft| taken(draft, &file_name, &body);
    said(&bench.import(&word("x-page"), with).await)
}

/// A name that was written with percent signs for all that is no plain letter.
/// Source: RFC 3986, 2.1.
fn decoded(name: &str) -> String {
    let mut bytes = Vec::with_capacity(name.len());
    let mut rest = name.as_bytes();
    while let [first, after @ ..] = rest {
        let escaped = match after {
            [high, low, ..] if *first == b'%' => {
                let digits = [*high, *low];
                let hex = std::str::from_utf8(&digits).ok().filter(|hex| !hex.starts_with('+'));
                hex.and_then(|hex| u8::from_str_radix(hex, 16).ok())
            }
            _ => None,
        };
        bytes.push(escaped.unwrap_or(*first));
        rest = rest.get(if escaped.is_some() { 3 } else { 1 }..).unwrap_or_default();
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_decoded_and_odd_ones_stay() {
        assert_eq!(decoded("w%C3%B6lk%20a.toml"), "wölk a.toml");
        assert_eq!(decoded("50%"), "50%");
        assert_eq!(decoded("%+1%zz"), "%+1%zz");
        assert_eq!(decoded(""), "");
    }
}
