//! Who may ask: pages of this server alone, in a browser on this machine.
//!
//! A page from elsewhere, open in the same browser, can send requests to any address of this machine, and a
//! name of its own can be made to point there. So every request has to name this address, and one that
//! changes something has to come from a page of it.
//! Source: RFC 6454 for the header `Origin`, RFC 9110 (7.2) for `Host`; common practice against both attacks.

use axum::http::{HeaderMap, Method, header};

/// The names of this machine that a browser may use.
const NAMES: [&str; 2] = ["127.0.0.1", "localhost"];

/// The word by which a request asks for a socket.
const UPGRADE: &str = "websocket";

/// Why a request is refused; nothing where it is not.
pub(super) fn refusal(method: &Method, headers: &HeaderMap, port: u16) -> Option<&'static str> {
    let is_ours = |given: &str| NAMES.iter().any(|name| given == format!("{name}:{port}"));
    // A second one could be the one that counts for somebody else.
    let only = |name| {
        let mut all = headers.get_all(name).iter();
        let first = all.next().and_then(|value| value.to_str().ok());
        if all.next().is_some() { Some("") } else { first }
    };
    if !only(header::HOST).is_some_and(is_ours) {
        return Some("this server answers to 127.0.0.1 and localhost with its own port alone");
    }
    let asks_socket = only(header::UPGRADE).is_some_and(|word| word.eq_ignore_ascii_case(UPGRADE));
    let looks = (method == Method::GET || method == Method::HEAD) && !asks_socket;
    match only(header::ORIGIN) {
        None if looks => None,
        None => Some("only a page of this server may change something: the Origin is missing"),
        Some(origin) if origin.strip_prefix("http://").is_some_and(is_ours) => None,
        Some(_) => Some("only a page of this server may ask: the Origin is another one"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(method: &Method, headers: &[(&'static str, &str)]) -> bool {
        let mut map = HeaderMap::new();
        for (name, value) in headers {
            map.append(*name, value.parse().unwrap());
        }
        refusal(method, &map, 7351).is_some()
    }

    #[test]
    fn a_look_needs_our_name_and_port() {
        for host in ["127.0.0.1:7351", "localhost:7351"] {
            assert!(!refused(&Method::GET, &[("host", host)]), "{host}");
        }
        for host in ["", "127.0.0.1", "127.0.0.1:80", "evil.example:7351", "localhost.evil:7351"] {
            assert!(refused(&Method::GET, &[("host", host)]), "{host}");
        }
        assert!(refused(&Method::GET, &[]));
        assert!(refused(&Method::GET, &[("host", "127.0.0.1:7351"), ("host", "evil.example")]));
    }

    #[test]
    fn a_change_and_a_socket_need_our_origin_too() {
        let host = ("host", "127.0.0.1:7351");
        let socket = ("upgrade", "WebSocket");
        for origin in ["http://127.0.0.1:7351", "http://localhost:7351"] {
            let origin = ("origin", origin);
            assert!(!refused(&Method::POST, &[host, origin]));
            assert!(!refused(&Method::GET, &[host, origin, socket]));
        }
        assert!(refused(&Method::POST, &[host]));
        assert!(refused(&Method::GET, &[host, socket]));
        for origin in
            ["null", "http://evil.example", "https://127.0.0.1:7351", "http://127.0.0.1:1"]
        {
            let origin = ("origin", origin);
            assert!(refused(&Method::POST, &[host, origin]));
            assert!(refused(&Method::GET, &[host, origin]));
            assert!(refused(&Method::GET, &[host, origin, socket]));
        }
    }
}
