//! Pages of lists: sizes, and tokens that are bound to their query.

use crate::limits::Limits;
use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use baystart_core::refusal::Reason;
use baystart_proto::Paged;
use baystart_proto::convert::Reader;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

/// Bytes of the checksum at a token's end.
const CHECKSUM_BYTES: usize = 8;
/// Longest token that is looked at.
const TOKEN_CHARS_MAX: usize = 2000;

#[derive(Serialize, Deserialize)]
struct Token {
    #[serde(rename = "m")]
    method: String,
    #[serde(rename = "q")]
    query: String,
    #[serde(rename = "c")]
    cursor: Vec<String>,
}

/// One page that was asked for.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Page {
    method: &'static str,
    query: String,
    /// Entries at most.
    pub(crate) size: usize,
    /// Where the page before ended: the key of its last entry; empty at the
    /// beginning.
    pub(crate) cursor: Vec<String>,
}

impl Page {
    /// Reads page size and token of a query; `filters` is whatever else the
    /// query was asked with.
    pub(crate) fn read<Q: Paged>(
        read: &mut Reader,
        limits: &Limits,
        asked: &Q,
        filters: &impl std::fmt::Debug,
    ) -> Option<Self> {
        let method = Q::NAME.trim_end_matches("Request");
        let (page_size, page_token) = asked.page();
        let size = match page_size {
            0 => limits.page_size_default,
            size => match u32::try_from(size) {
                Ok(size) => size.min(limits.page_size_max),
                Err(_) => {
                    let message = format!("{size} is less than 0");
                    read.fault("page_size", Reason::ValueInvalid, message);
                    limits.page_size_default
                }
            },
        };
        let digest = Sha256::digest(format!("{filters:?}").as_bytes());
        let query = URL_SAFE_NO_PAD.encode(digest.get(..12).unwrap_or_default());
        let size = usize::try_from(size).unwrap_or(1);
        let mut page = Self { method, query, size, cursor: Vec::new() };
        if page_token.is_empty() {
            return Some(page);
        }
        match decode(page_token).filter(|t| t.method == method && t.query == page.query) {
            Some(token) => {
                page.cursor = token.cursor;
                Some(page)
            }
            None => {
                let message = "is no page token of this query";
                read.fault("page_token", Reason::PageTokenInvalid, message);
                None
            }
        }
    }

    /// Rows to fetch: one more than the page, to know whether there is more.
    pub(crate) fn fetch(&self) -> u64 {
        u64::try_from(self.size).unwrap_or(u64::MAX).saturating_add(1)
    }

    /// Where the page begins, by one key.
    pub(crate) fn after(&self) -> Option<&str> {
        self.cursor.first().map(String::as_str)
    }

    /// The token of the page that follows an entry with this key.
    pub(crate) fn token(&self, cursor: Vec<String>) -> String {
        let token = Token { method: self.method.to_owned(), query: self.query.clone(), cursor };
        let mut bytes = serde_json::to_vec(&token).unwrap_or_default();
        let checksum = Sha256::digest(&bytes);
        bytes.extend_from_slice(checksum.get(..CHECKSUM_BYTES).unwrap_or_default());
        URL_SAFE_NO_PAD.encode(bytes)
    }

    /// Cuts the rows to the page; the token of the next one is empty where
    /// this is the last.
    pub(crate) fn cut<T>(&self, rows: &mut Vec<T>, key: impl Fn(&T) -> Vec<String>) -> String {
        if rows.len() <= self.size {
            return String::new();
        }
        rows.truncate(self.size);
        rows.last().map(|row| self.token(key(row))).unwrap_or_default()
    }
}

fn decode(text: &str) -> Option<Token> {
    if text.len() > TOKEN_CHARS_MAX {
        return None;
    }
    let bytes = URL_SAFE_NO_PAD.decode(text).ok()?;
    let (json, checksum) = bytes.split_at_checked(bytes.len().checked_sub(CHECKSUM_BYTES)?)?;
    let wanted = Sha256::digest(json);
    if wanted.get(..CHECKSUM_BYTES)? != checksum {
        return None;
    }
    serde_json::from_slice(json).ok()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use baystart_proto::v1;

    fn read_as<Q: Paged>(asked: &Q, filters: &str) -> (Option<Page>, bool) {
        let mut reader = Reader::new();
        let page = Page::read(&mut reader, &Limits::default(), asked, &filters);
        let fine = reader.finish(Some(())).is_ok();
        (page.filter(|_| fine), fine)
    }

    fn read(filters: &str, page_size: i32, token: &str) -> (Option<Page>, bool) {
        let page_token = token.to_owned();
        let asked = v1::ListPartsRequest { page_size, page_token, ..Default::default() };
        read_as(&asked, filters)
    }

    #[test]
    fn a_token_leads_on_in_its_own_query_only() {
        let first = read("winch", 2, "").0.unwrap();
        assert_eq!((first.size, first.fetch()), (2, 3));
        let mut rows = vec!["A", "B", "C"];
        let token = first.cut(&mut rows, |row| vec![(*row).to_owned()]);
        assert_eq!(rows, ["A", "B"]);
        let next = read("winch", 2, &token).0.unwrap();
        assert_eq!(next.after(), Some("B"));
        assert!(read("bull bar", 2, &token).0.is_none());
        let other = v1::ListBinsRequest { page_size: 2, page_token: token };
        assert!(read_as(&other, "winch").0.is_none());
    }

    #[test]
    fn forged_and_broken_tokens_are_refused() {
        let first = read("", 1, "").0.unwrap();
        let token = first.token(vec!["A".to_owned()]);
        for i in 0..token.len() {
            let mut forged = token.clone().into_bytes();
            forged[i] = if forged[i] == b'A' { b'B' } else { b'A' };
            let forged = String::from_utf8(forged).unwrap();
            assert!(read("", 1, &forged).0.is_none(), "{forged}");
        }
        for bad in ["x", "====", "äöü", &"A".repeat(5000)] {
            assert!(read("", 1, bad).0.is_none());
        }
    }

    #[test]
    fn sizes_are_bounded() {
        assert_eq!(read("", 0, "").0.unwrap().size, 50);
        assert_eq!(read("", 100_000, "").0.unwrap().size, 500);
        assert!(!read("", -1, "").1);
        let page = read("", 5, "").0.unwrap();
        assert_eq!(page.cut(&mut vec![1, 2, 3, 4, 5], |_| vec![]), "");
    }
}
