//! One text for both databases: written with PostgreSQL's types, of which
//! SQLite gets its own.

use sea_orm_migration::SchemaManager;
use sea_orm_migration::prelude::DbErr;
use sea_orm_migration::sea_orm::{ConnectionTrait, DbBackend};

/// A word of our texts, PostgreSQL's type, SQLite's type. `CTEXT` sorts by
/// code point on both, so that pages of a list come in one order.
const TYPES: &[(&str, &str, &str)] = &[
    ("CTEXT", "TEXT COLLATE \"C\"", "TEXT"),
    ("UUID", "UUID", "BLOB"),
    ("BYTEA", "BYTEA", "BLOB"),
    ("TIMESTAMPTZ", "TIMESTAMPTZ", "TEXT"),
    ("DATE", "DATE", "TEXT"),
    ("BIGINT", "BIGINT", "INTEGER"),
    ("BOOLEAN", "BOOLEAN", "INTEGER"),
    ("FLOAT8", "FLOAT8", "REAL"),
];

/// Runs statements, each type word replaced for the database at hand. SQLite's
/// tables are made strict, so that no text lands in a number's column.
///
/// # Errors
/// The database refuses a statement.
pub async fn run(manager: &SchemaManager<'_>, text: &str) -> Result<(), DbErr> {
    let connection = manager.get_connection();
    let sqlite = connection.get_database_backend() == DbBackend::Sqlite;
    connection.execute_unprepared(&translate(text, sqlite)).await.map(|_| ())
}

/// Runs statements that only one of the databases understands.
///
/// # Errors
/// The database refuses a statement.
pub async fn run_for(
    manager: &SchemaManager<'_>,
    postgres: &str,
    sqlite: &str,
) -> Result<(), DbErr> {
    let connection = manager.get_connection();
    let text = match connection.get_database_backend() {
        DbBackend::Sqlite => sqlite,
        _ => postgres,
    };
    connection.execute_unprepared(text).await.map(|_| ())
}

fn translate(text: &str, sqlite: bool) -> String {
    let mut out = String::with_capacity(text.len());
    let mut word = String::new();
    for c in text.chars() {
        if c.is_ascii_alphanumeric() || c == '_' {
            word.push(c);
            continue;
        }
        out.push_str(replacement(&word, sqlite));
        word.clear();
        out.push(c);
    }
    out.push_str(replacement(&word, sqlite));
    match sqlite {
        true => out.replace("\n);", "\n) STRICT;"),
        false => out,
    }
}

fn replacement(word: &str, sqlite: bool) -> &str {
    match TYPES.iter().find(|(ours, _, _)| *ours == word) {
        Some((_, _, theirs)) if sqlite => theirs,
        Some((_, theirs, _)) => theirs,
        None => word,
    }
}

#[cfg(test)]
mod tests {
    use super::translate;

    #[test]
    fn types_are_replaced_as_whole_words() {
        let text = "CREATE TABLE t (\n  id UUID, day DATE, UPDATED BIGINT\n);";
        assert_eq!(
            translate(text, true),
            "CREATE TABLE t (\n  id BLOB, day TEXT, UPDATED INTEGER\n) STRICT;"
        );
        assert_eq!(translate(text, false), text);
        assert_eq!(translate("n CTEXT", false), "n TEXT COLLATE \"C\"");
    }
}
