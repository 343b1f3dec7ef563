//! The client's settings: flag, then variable, then file, then default.

use super::fail::Failure;
use baystart_proto::v1;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::{env, fs};

/// Where a server on the same machine listens.
pub const DEFAULT_SERVER: &str = "http://127.0.0.1:7461";

/// Flags that every client command takes.
#[derive(Clone, Debug, clap::Args)]
#[command(next_help_heading = "For every command")]
pub struct GlobalArgs {
    /// The server's address [default: http://127.0.0.1:7461]
    #[arg(
        long,
        global = true,
        value_name = "URL",
        env = "BAYSTART_SERVER",
        hide_env_values = true
    )]
    pub server: Option<String>,
    /// File that holds the token [default: baystart/token in the configuration folder]
    #[arg(
        long,
        global = true,
        value_name = "PATH",
        env = "BAYSTART_TOKEN_FILE",
        hide_env_values = true
    )]
    pub token_file: Option<PathBuf>,
    /// Settings file (TOML: server, token_file) [default: baystart/config.toml in the configuration folder]
    #[arg(
        long,
        global = true,
        value_name = "PATH",
        env = "BAYSTART_CONFIG",
        hide_env_values = true
    )]
    pub config: Option<PathBuf>,
    /// Print the answer as one document in protobuf's JSON mapping, errors too (board, quote: one
    /// line of JSON for each build or file)
    #[arg(long, global = true)]
    pub json: bool,
    /// Tables with all their columns, however wide
    #[arg(long, global = true)]
    pub wide: bool,
    /// Never ask, not even on a terminal
    #[arg(long, global = true)]
    pub no_input: bool,
    /// Repeat a write safely: under one id it takes effect once [default: a new id]
    #[arg(long, global = true, value_name = "UUID", value_parser = request_id)]
    pub request_id: Option<String>,
    /// The day on which it happened: 2026-09-14, yesterday, fri (the last), -3, "2 weeks ago" [default:
    /// today in the shop]
    #[arg(long, global = true, value_name = "DATE", value_parser = super::parse::date::past)]
    pub on: Option<v1::Date>,
    /// Seconds to wait for an answer
    #[arg(long, global = true, value_name = "SECONDS", default_value_t = 60, value_parser = clap::value_parser!(u64).range(1..=86_400))]
    pub timeout: u64,
}

fn request_id(text: &str) -> Result<String, String> {
    uuid::Uuid::try_parse(text)
        .map(|id| id.to_string())
        .map_err(|_| "is not a UUID; leave it out for a new one".to_owned())
}

/// Where the server is, and the file that holds the token.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Settings {
    /// The server's address.
    pub server: String,
    /// The file that holds the token.
    pub token_file: PathBuf,
    /// What the person should know of the settings file.
    pub caution: Option<String>,
}

#[derive(Debug, Default, serde::Deserialize)]
#[serde(default)]
struct SettingsFile {
    server: Option<String>,
    token_file: Option<PathBuf>,
    // The same file may hold the server's own settings.
    #[serde(flatten)]
    others: BTreeMap<String, serde::de::IgnoredAny>,
}

/// Every key that a settings file may hold.
const KEYS: [&str; 6] =
    ["server", "token_file", "database", "listen", "behind_tls_proxy", "books_mib"];

/// What is to be said of keys that nobody reads, likely mistyped.
#[must_use]
pub fn unknown_keys<'a>(keys: impl Iterator<Item = &'a str>, path: &Path) -> Option<String> {
    let unknown: Vec<&str> = keys.filter(|key| !KEYS.contains(key)).collect();
    (!unknown.is_empty()).then(|| {
        format!(
            "the settings file {} holds {}, which is no setting; settings are {}",
            path.display(),
            unknown.join(", "),
            KEYS.join(", ")
        )
    })
}

impl Settings {
    /// Settles each setting.
    ///
    /// # Errors
    /// A named settings file cannot be read, or no token file can be guessed.
    pub fn settle(global: &GlobalArgs) -> Result<Self, Failure> {
        let folder = configuration_folder();
        let file = match (&global.config, &folder) {
            (Some(path), _) => with_caution(read(path)?, path),
            (None, Some(folder)) => {
                let path = folder.join("config.toml");
                match path.is_file() {
                    true => with_caution(read(&path)?, &path),
                    false => (SettingsFile::default(), None),
                }
            }
            (None, None) => (SettingsFile::default(), None),
        };
        let (file, caution) = file;
        let token_file = global
            .token_file
            .clone()
            .or(file.token_file)
            .or_else(|| folder.map(|folder| folder.join("token")))
            .ok_or_else(|| {
                Failure::Configuration(
                    "no token file is known; name one with --token-file".to_owned(),
                )
            })?;
        let server =
            global.server.clone().or(file.server).unwrap_or_else(|| DEFAULT_SERVER.to_owned());
        Ok(Self { server, token_file, caution })
    }
}

fn with_caution(file: SettingsFile, path: &Path) -> (SettingsFile, Option<String>) {
    let caution = unknown_keys(file.others.keys().map(String::as_str), path);
    (file, caution)
}

/// `$XDG_CONFIG_HOME/baystart`, or `~/.config/baystart`.
fn configuration_folder() -> Option<PathBuf> {
    let named = |name| env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    let base =
        named("XDG_CONFIG_HOME").or_else(|| named("HOME").map(|home| home.join(".config")))?;
    Some(base.join("baystart"))
}

fn read(path: &Path) -> Result<SettingsFile, Failure> {
    let text = fs::read_to_string(path).map_err(|error| {
        Failure::Configuration(format!(
            "the settings file {} cannot be read: {error}",
            path.display()
        ))
    })?;
    toml::from_str(&text).map_err(|error| {
        Failure::Configuration(format!("the settings file {} is wrong: {error}", path.display()))
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn the_file_may_hold_other_settings() {
        let file: SettingsFile =
            toml::from_str("server = \"http://shop:1\"\ntoken_file = \"t\"\ndatabase = \"x.db\"\n[listen]\nport = 1\n")
                .unwrap();
        assert_eq!(file.server.as_deref(), Some("http://shop:1"));
        assert_eq!(file.token_file, Some(PathBuf::from("t")));
        assert!(toml::from_str::<SettingsFile>("server = 1").is_err());
        let told = |file: &SettingsFile| {
            unknown_keys(file.others.keys().map(String::as_str), Path::new("c.toml"))
        };
        let file: SettingsFile =
            toml::from_str("sever = \"http://shop:1\"\ndatabase = \"x\"").unwrap();
        let said = told(&file).unwrap();
        assert!(said.contains("holds sever, which is no setting; settings are server, "), "{said}");
        let file: SettingsFile =
            toml::from_str("server = \"http://shop:1\"\nbooks_mib = 5").unwrap();
        assert_eq!(told(&file), None);
    }
}
