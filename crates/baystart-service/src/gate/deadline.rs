//! The caller's deadline.

use crate::fault;
use http::HeaderMap;
use std::time::Duration;
use tonic::{Code, Status};

/// The time that the `grpc-timeout` header gives, where it is one. Form:
/// gRPC over HTTP/2, "Timeout": at most 8 digits and a unit of HMSmun.
pub(super) fn asked(headers: &HeaderMap) -> Option<Duration> {
    let text = headers.get("grpc-timeout")?.to_str().ok()?;
    let (digits, unit) = text.split_at_checked(text.len().checked_sub(1)?)?;
    if digits.is_empty() || digits.len() > 8 || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let value: u64 = digits.parse().ok()?;
    match unit {
        "H" => Some(Duration::from_secs(value.checked_mul(3600)?)),
        "M" => Some(Duration::from_secs(value.checked_mul(60)?)),
        "S" => Some(Duration::from_secs(value)),
        "m" => Some(Duration::from_millis(value)),
        "u" => Some(Duration::from_micros(value)),
        "n" => Some(Duration::from_nanos(value)),
        _ => None,
    }
}

/// What a call that took too long is answered.
pub(super) fn exceeded() -> Status {
    let text = "the call's deadline passed; a command may still take effect";
    let remedy = "Repeat it with the same request id and a later deadline.";
    fault::own(Code::DeadlineExceeded, "DEADLINE_EXCEEDED", text, remedy)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn parse(text: &str) -> Option<Duration> {
        let mut headers = HeaderMap::new();
        headers.insert("grpc-timeout", text.parse().unwrap());
        asked(&headers)
    }

    #[test]
    fn reads_the_header_as_grpc_over_http2_says() {
        assert_eq!(parse("82f"), None);
        assert_eq!(parse("100m"), Some(Duration::from_millis(100)));
        assert_eq!(parse("2S"), Some(Duration::from_secs(2)));
        assert_eq!(parse("99999999H"), Some(Duration::from_secs(99_999_999 * 3600)));
        for bad in ["", "S", "123456789S", "-1S", "1.5S", "S1"] {
            assert_eq!(parse(bad), None, "{bad}");
        }
    }
}
