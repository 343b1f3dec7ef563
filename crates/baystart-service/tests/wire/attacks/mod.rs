//! What one caller can do to the others: nothing.

mod few;
mod open;
mod peer;
mod unread;

use baystart_service::Limits;
use std::time::Duration;

/// Few places and short times, so that an attack is small and its end is soon.
fn small() -> Limits {
    Limits {
        calls_max: 16,
        place_wait_max: Duration::from_millis(500),
        heavy_wait_max: Duration::from_secs(3),
        connections_max: 40,
        handshake_time_max: Duration::from_millis(700),
        idle_stranger_time_max: Duration::from_millis(700),
        request_time_max: Duration::from_millis(900),
        stall_time_max: Duration::from_millis(900),
        unary_time_max: Duration::from_secs(2),
        health_check_time_max: Duration::from_millis(900),
        bytes_in_flight_max: 8 * 1024 * 1024,
        ..Limits::default()
    }
}
