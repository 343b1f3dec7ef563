//! Follows a list to its last page.

use super::fail::Failure;
use std::future::Future;

/// Rows that are asked for at a time.
pub const SIZE: i32 = 200;

/// All rows of a list; `fetch` takes a page token and answers one page's rows
/// with the next page's token, empty after the last.
///
/// # Errors
/// A page could not be read.
pub async fn all<T, F, Fut>(mut fetch: F) -> Result<Vec<T>, Failure>
where
    F: FnMut(String) -> Fut,
    Fut: Future<Output = Result<(Vec<T>, String), Failure>>,
{
    let (mut rows, mut token) = (Vec::new(), String::new());
    loop {
        let (page, next) = fetch(token.clone()).await?;
        rows.extend(page);
        if next.is_empty() {
            return Ok(rows);
        }
        if next == token {
            return Err(Failure::Internal(
                "the server answers the same page again and again".to_owned(),
            ));
        }
        token = next;
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[tokio::test]
    async fn follows_to_the_last_page() {
        let rows = all(|token| async move {
            Ok(match token.as_str() {
                "" => (vec![1, 2], "a".to_owned()),
                "a" => (vec![], "b".to_owned()),
                _ => (vec![3], String::new()),
            })
        });
        assert_eq!(rows.await.unwrap(), [1, 2, 3]);
    }

    #[tokio::test]
    async fn does_not_turn_for_ever() {
        let rows = all(|_| async { Ok((vec![1], "a".to_owned())) });
        assert_eq!(rows.await.unwrap_err().exit_code(), 70);
    }
}
