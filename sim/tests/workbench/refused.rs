//! Whom the server does not listen to, and what it does not understand.

use serde_json::json;

use super::{Bench, DRIVE_ON, stand};

#[test]
fn a_page_from_elsewhere_can_neither_look_nor_change() {
    let bench = Bench::started();
    let [origin, host] = bench.own();
    let revision = &bench.board()["revision"];
    let asked = json!({ "revision": revision, "changes": [{ "key": DRIVE_ON, "value": 1.4 }] });
    let body = asked.to_string();
    let elsewhere = ("Origin", "http://evil.example".to_owned());
    let renamed = ("Host", format!("evil.example:{}", bench.port));
    for headers in [
        vec![host.clone()],
        vec![host.clone(), elsewhere.clone()],
        vec![renamed.clone(), origin],
        vec![host.clone(), ("Origin", "null".to_owned())],
    ] {
        let answer = bench.asks("POST /api/change", &headers, body.as_bytes());
        assert_eq!(answer.status, 403, "{headers:?}");
        assert!(answer.headers.contains("content-security-policy"));
    }
    assert_eq!(bench.asks("GET /api/board", &[renamed], b"").status, 403);
    assert_eq!(bench.asks("GET /api/board", &[host, elsewhere], b"").status, 403);
    assert_eq!(bench.drive_on(), 1.2);
}

#[test]
fn what_cannot_be_read_is_told_in_words() {
    let bench = Bench::started();
    let own = bench.own();
    for (path, body) in [
        ("/api/change", "not json"),
        ("/api/change", "{}"),
        ("/api/change", r#"{"revision":1,"changes":[{}],"page":"a"}"#),
        ("/api/change", r#"{"revision":1,"changes":[{"curve":"up","handles":null}]}"#),
        ("/api/feel", r#"{"stand":{"rider":"light"}}"#),
        ("/api/undo", "[["),
    ] {
        let answer = bench.asks(&format!("POST {path}"), &own, body.as_bytes());
        assert_eq!(answer.status, 400, "{path} {body}");
        assert!(answer.json()["why"].as_str().unwrap().len() > 10, "{body}");
    }
    let mut moon = stand();
    moon["surface"] = json!("moon");
    let answer = bench.post("/api/feel", &json!({ "stand": moon }));
    assert_eq!(answer.status, 400);
    assert!(answer.json()["why"].as_str().unwrap().contains("moon"));
    let answer = bench.post("/api/feel", &json!({ "stand": stand(), "ride": "moon" }));
    assert_eq!(answer.status, 422);
    assert!(answer.json()["why"].as_str().unwrap().contains("moon"));
    assert_eq!(bench.get("/api/export/everything").status, 404);
    assert_eq!(bench.get("/api/change").status, 405);
    assert_eq!(bench.get("/nothing").status, 404);
    let huge = vec![b' '; 2 << 20];
    assert_eq!(bench.asks("POST /api/import", &own, &huge).status, 413);
}

#[test]
fn a_change_made_on_what_another_page_has_left_is_not_taken() {
    let bench = Bench::started();
    let revision = bench.board()["revision"].clone();
    bench.set(1.4);
    let late = json!({ "revision": revision, "changes": [{ "key": DRIVE_ON, "value": 1.3 }] });
    let answer = bench.post("/api/change", &late);
    assert_eq!(answer.status, 409);
    assert_eq!(answer.json()["candidate"]["values"][DRIVE_ON], 1.4);
    assert_ne!(answer.json()["revision"], revision);
}
