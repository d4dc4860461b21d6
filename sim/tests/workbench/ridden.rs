//! The board ridden over a socket, in real time.

use std::net::TcpStream;
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use tungstenite::client::IntoClientRequest as _;
use tungstenite::{Message, WebSocket};

use super::{Bench, stand};

fn socket(bench: &Bench, origin: &str) -> Option<WebSocket<TcpStream>> {
    let url = format!("ws://127.0.0.1:{}/api/ride", bench.port);
    let mut request = url.into_client_request().unwrap();
    request.headers_mut().insert("Origin", origin.parse().unwrap());
    tungstenite::client(request, bench.connect()).ok().map(|(socket, _)| socket)
}

fn own(bench: &Bench) -> WebSocket<TcpStream> {
    socket(bench, &bench.own()[0].1).expect("a page of ours may ride")
}

fn say(socket: &mut WebSocket<TcpStream>, word: &Value) {
    socket.send(Message::Text(word.to_string().into())).unwrap();
}

fn told(socket: &mut WebSocket<TcpStream>) -> Value {
    loop {
        if let Message::Text(text) = socket.read().unwrap() {
            return serde_json::from_str(&text).unwrap();
        }
    }
}

/// Holds a thumb for so long.
fn hold(socket: &mut WebSocket<TcpStream>, thumb: f64, seconds: f64) -> Value {
    let mut last = Value::Null;
    for _ in 0..Duration::from_secs_f64(seconds).as_millis() / 40 {
        say(socket, &json!({ "thumb": thumb }));
        last = told(socket);
    }
    last
}

#[test]
fn a_board_is_ridden_in_real_time_and_a_silent_page_is_a_silent_hand() {
    let bench = Bench::started();
    let mut socket = own(&bench);
    say(&mut socket, &json!({ "stand": stand(), "which": "candidate" }));
    assert_eq!(hold(&mut socket, 0.0, 1.2)["armed"], "ready");
    let began = Instant::now();
    let from_s = told(&mut socket)["time_s"].as_f64().unwrap();
    let driven = hold(&mut socket, 0.7, 2.0);
    assert!(driven["speed_m_s"].as_f64().unwrap() > 0.5, "{driven}");
    assert!(driven["pack_current_A"].as_f64().unwrap() > 1.0, "{driven}");
    let (ridden_s, passed_s) =
        (driven["time_s"].as_f64().unwrap() - from_s, began.elapsed().as_secs_f64());
    assert!(ridden_s <= passed_s + 0.1, "{ridden_s} s ridden in {passed_s} s");
    let mut silent = Value::Null;
    for _ in 0..30 {
        silent = told(&mut socket);
    }
    assert_eq!(silent["armed"], "the hand is silent");
    assert!(silent["pack_current_A"].as_f64().unwrap() < 1.0, "{silent}");
    say(&mut socket, &json!({ "again": true }));
    let mut again = told(&mut socket);
    for _ in 0..50 {
        if again["time_s"].as_f64().unwrap() < 0.5 {
            break;
        }
        again = told(&mut socket);
    }
    assert!(again["time_s"].as_f64().unwrap() < 0.5, "{again}");
}

#[test]
fn a_socket_from_elsewhere_is_none_and_a_word_without_sense_ends_the_ride() {
    let bench = Bench::started();
    assert!(socket(&bench, "http://evil.example").is_none());
    let mut socket = own(&bench);
    say(&mut socket, &json!({ "thumb": "all of it" }));
    let closed = loop {
        match socket.read() {
            Ok(Message::Close(frame)) => break frame,
            Ok(_) => {}
            Err(error) => panic!("{error}"),
        }
    };
    assert!(closed.unwrap().reason.contains("cannot be read"));
}
