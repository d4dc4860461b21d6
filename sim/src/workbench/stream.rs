//! What goes on for as long as a page is open: what it is told, and the ride.
//!
//! Ends with the page, or with the server.

use std::convert::Infallible;
use std::sync::Arc;
use std::time::Instant;

use axum::extract::State;
use axum::extract::ws::{CloseFrame, Message, WebSocket, WebSocketUpgrade, close_code};
use axum::response::Response;
use axum::response::sse::{Event, KeepAlive, Sse};
use futures_util::stream::{self, Stream};
use tokio::sync::broadcast::error::RecvError;
use tokio::time::MissedTickBehavior;

use super::bench::{Bench, Told};
use super::riding::{Hand, Ride, Start, TOLD_EVERY, Which, Word};
use super::wire::usual_stand;

/// No word of a page is longer.
const LONGEST_WORD: usize = 4096;

/// What a page is told by itself, until the server stops.
pub(super) async fn events(
    State(bench): State<Arc<Bench>>,
) -> Sse<impl Stream<Item = Result<Event, Infallible>>> {
    let heard = (bench.listen(), bench.board_file_told(), false);
    let events = stream::unfold(heard, |(mut heard, mut first, stopped)| async move {
        if stopped {
            return None;
        }
        let told = match first.take() {
            Some(told) => told,
            None => next(&mut heard).await?,
        };
        let stops = told.name == "stopping";
        let event = Event::default().event(told.name).data(told.what);
        Some((Ok(event), (heard, first, stops)))
    });
    Sse::new(events).keep_alive(KeepAlive::default())
}

async fn next(heard: &mut tokio::sync::broadcast::Receiver<Told>) -> Option<Told> {
    loop {
        match heard.recv().await {
            Ok(told) => return Some(told),
            // What was missed is older than what comes now, and each word stands by itself.
            Err(RecvError::Lagged(_)) => {}
            Err(RecvError::Closed) => return None,
        }
    }
}

/// A ride in real time.
pub(super) async fn ride(State(bench): State<Arc<Bench>>, socket: WebSocketUpgrade) -> Response {
    socket.max_message_size(LONGEST_WORD).on_upgrade(|socket| ridden(socket, bench))
}

async fn ridden(mut socket: WebSocket, bench: Arc<Bench>) {
    let mut start = Start::default();
    // How one ride ends is how the next one begins.
    let why = loop {
        match one_ride(&mut socket, &bench, start).await {
            Next::Again(anew) => start = anew,
            Next::Gone => return,
            Next::Refused(why) => break why,
        }
    };
    let reason = why.chars().take(60).collect::<String>().into();
    let frame = CloseFrame { code: close_code::POLICY, reason };
    // The page may be gone by now.
    let _ = socket.send(Message::Close(Some(frame))).await;
}

/// What comes after a ride.
enum Next {
    Again(Start),
    Gone,
    Refused(String),
}

async fn one_ride(socket: &mut WebSocket, bench: &Bench, start: Start) -> Next {
    let (feeling, on_board, candidate, _) = bench.tried();
    let draft = match start.which {
        Which::Candidate => candidate,
        Which::OnBoard => on_board,
    };
    let chosen = start.stand.clone().unwrap_or_else(usual_stand);
    let stand = match feeling.stands().stand(&chosen) {
        Ok(stand) => stand,
        Err(why) => return Next::Refused(why),
    };
    let mut ride = match Ride::new(feeling.machine(), draft.file(), &stand) {
        Ok(ride) => ride,
        Err(error) => return Next::Refused(error.to_string()),
    };
    let mut hand = Hand::new();
    let stopped = bench.stopped();
    tokio::pin!(stopped);
    let mut clock = tokio::time::interval(TOLD_EVERY);
    // A computer that was asleep rides on from where it was.
    clock.set_missed_tick_behavior(MissedTickBehavior::Skip);
    loop {
        tokio::select! {
            () = &mut stopped => return Next::Refused("the server stops".to_owned()),
            _ = clock.tick() => {
                let told = ride.on(&hand, Instant::now()).to_string();
                if socket.send(Message::Text(told.into())).await.is_err() {
                    return Next::Gone;
                }
            }
            said = socket.recv() => match said {
                Some(Ok(Message::Text(text))) => match serde_json::from_str::<Word>(&text) {
                    Ok(word) => {
                        if let Some(anew) = hand.hears(word, &start, Instant::now()) {
                            return Next::Again(anew);
                        }
                    }
                    Err(error) => return Next::Refused(format!("that cannot be read: {error}")),
                },
                Some(Ok(Message::Binary(_) | Message::Ping(_) | Message::Pong(_))) => {}
                Some(Ok(Message::Close(_)) | Err(_)) | None => return Next::Gone,
            },
        }
    }
}
