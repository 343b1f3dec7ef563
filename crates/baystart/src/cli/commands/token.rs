//! `token`: who may call.

use crate::cli::fail::Failure;
use crate::cli::page;
use crate::cli::session::Session;
use crate::cli::show::table::Rows;
use crate::cli::show::text::quoted;
use crate::cli::show::words;
use baystart_proto::v1;
use std::fs::{File, OpenOptions};
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// Tokens.
#[derive(Clone, Debug, clap::Subcommand)]
pub enum TokenCommand {
    /// Issue a token; its secret is shown this once
    Issue {
        /// Whose it is: a person's role or a tool's name
        name: String,
        /// What its holder may do; once a role
        #[arg(long = "role", value_enum, required = true)]
        roles: Vec<Role>,
        /// Write the secret to this new file, for its owner's eyes only, and not to the screen
        #[arg(long, value_name = "FILE")]
        to: Option<PathBuf>,
    },
    /// List tokens
    List {
        /// Show uids and when each was issued
        #[arg(long)]
        uids: bool,
    },
    /// Refuse a token from now on
    Revoke {
        /// Its uid, or its name when only one token in force has it
        token: String,
    },
}

/// What a token's holder may do.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
pub enum Role {
    /// Stock, orders and reservations.
    Parts,
    /// Builds before they are in the bay, dates and quotes.
    Sales,
    /// Issue, return and found; stages of builds in the bay.
    Workshop,
    /// Every answer, no change.
    ReadOnly,
    /// Everything, tokens and settings included.
    Admin,
}

impl From<Role> for i32 {
    fn from(role: Role) -> Self {
        match role {
            Role::Parts => v1::Role::Parts,
            Role::Sales => v1::Role::Sales,
            Role::Workshop => v1::Role::Workshop,
            Role::ReadOnly => v1::Role::ReadOnly,
            Role::Admin => v1::Role::Admin,
        }
        .into()
    }
}

/// Runs the command.
///
/// # Errors
/// A file cannot be made, or the server refused.
pub async fn run(s: &mut Session<'_>, command: TokenCommand) -> Result<(), Failure> {
    match command {
        TokenCommand::Issue { name, roles, to } => issue(s, name, &roles, to.as_deref()).await,
        TokenCommand::List { uids } => {
            let tokens = read(s).await?;
            let console = s.console;
            let response = v1::ListTokensResponse { tokens, next_page_token: String::new() };
            s.show(&response, |response| table(&response.tokens, uids, console))
        }
        TokenCommand::Revoke { token } => revoke(s, token).await,
    }
}

async fn issue(
    s: &mut Session<'_>,
    name: String,
    roles: &[Role],
    to: Option<&Path>,
) -> Result<(), Failure> {
    // The file is made first: a secret that cannot be kept must not be drawn.
    let file = to.map(new_file).transpose()?;
    let request = v1::IssueTokenRequest {
        request_id: s.request_id(),
        name: name.clone(),
        roles: roles.iter().copied().map(i32::from).collect(),
    };
    let answer = s.access().issue_token(request).await;
    let kept = match (&answer, to, file) {
        (Ok(response), Some(path), Some(file)) => keep(file, path, &response.get_ref().secret),
        (Err(_), Some(path), Some(_)) => {
            // Only an empty file of our own is taken away.
            let _ = std::fs::remove_file(path);
            Ok(())
        }
        _ => Ok(()),
    };
    let mut response = answer?.into_inner();
    kept?;
    if s.global.json {
        if to.is_some() {
            response.secret.clear();
        }
        return s.print_json(&response);
    }
    if response.secret.is_empty() {
        return s.print(&format!(
            "Token {name} was issued by this request before; its secret was shown then. If it is lost, revoke the token."
        ));
    }
    match to {
        Some(path) => {
            let place = path.display();
            s.print(&format!("Token {name} issued; its secret is in {place}."))?;
            s.print(&format!(
                "next: baystart --token-file {} shop show",
                quoted(&place.to_string())
            ))
        }
        None => {
            s.note(&format!("Token {name} issued. Keep its secret in a file that only its owner can read; it is shown this once."))?;
            s.print(&response.secret)
        }
    }
}

fn new_file(path: &Path) -> Result<File, Failure> {
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt as _;
        options.mode(0o600);
    }
    options.open(path).map_err(|error| {
        Failure::Usage(format!("the file {} cannot be made: {error}", path.display()))
    })
}

fn keep(mut file: File, path: &Path, secret: &str) -> Result<(), Failure> {
    if secret.is_empty() {
        let _ = std::fs::remove_file(path);
        return Ok(());
    }
    writeln!(file, "{secret}").and_then(|()| file.sync_all()).map_err(|error| {
        Failure::Internal(format!(
            "the secret could not be written to {}: {error}; revoke the token and issue another",
            path.display()
        ))
    })
}

async fn revoke(s: &mut Session<'_>, token: String) -> Result<(), Failure> {
    let uid = if uuid::Uuid::try_parse(&token).is_ok() {
        token.clone()
    } else {
        uid_of(&read(s).await?, &token)?
    };
    s.confirm(&format!("Revoke token {token}? Whoever uses it is refused from the next call on."))?;
    let request = v1::RevokeTokenRequest { request_id: s.request_id(), uid };
    let response = s.access().revoke_token(request).await?.into_inner();
    s.wrote(&response, &format!("Token {token} revoked."), None)
}

fn uid_of(tokens: &[v1::Token], name: &str) -> Result<String, Failure> {
    let in_force: Vec<_> =
        tokens.iter().filter(|token| token.name == name && token.revoked_at.is_none()).collect();
    match in_force.as_slice() {
        [one] => Ok(one.uid.clone()),
        [] => Err(Failure::Usage(format!(
            "no token in force is named {name:?}; see baystart token list"
        ))),
        several => Err(Failure::Usage(format!(
            "{} tokens in force are named {name:?}; name one by its uid, see baystart token list --uids",
            several.len()
        ))),
    }
}

async fn read(s: &Session<'_>) -> Result<Vec<v1::Token>, Failure> {
    let client = s.access();
    page::all(|page_token| {
        let mut client = client.clone();
        async move {
            let request = v1::ListTokensRequest { page_size: page::SIZE, page_token };
            let page = client.list_tokens(request).await?.into_inner();
            Ok((page.tokens, page.next_page_token))
        }
    })
    .await
}

fn table(tokens: &[v1::Token], uids: bool, console: crate::cli::console::Console) -> String {
    let mut columns = vec!["token", "roles", "state"];
    if uids {
        columns.extend(["uid", "issued"]);
    }
    let mut rows = Rows::new(console, &columns);
    for token in tokens {
        let roles: Vec<_> = token.roles.iter().map(|role| words::role(*role)).collect();
        let state = if token.revoked_at.is_some() { "revoked" } else { "in force" };
        let (name, roles, state) = (token.name.clone(), roles.join(", "), state.to_owned());
        if uids {
            let issued = words::instant(token.issued_at.as_ref().map(|at| at.seconds));
            rows.row([name, roles, state, token.uid.clone(), issued]);
        } else {
            rows.row([name, roles, state]);
        }
    }
    rows.text_or("No tokens.")
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_name_stands_for_one_token_in_force() {
        let token = |uid: &str, name: &str, revoked| v1::Token {
            uid: uid.into(),
            name: name.into(),
            revoked_at: if revoked { Some(Default::default()) } else { None },
            ..v1::Token::default()
        };
        let tokens = [
            token("1", "sales", true),
            token("2", "sales", false),
            token("3", "bay", false),
            token("4", "bay", false),
        ];
        assert_eq!(uid_of(&tokens, "sales").unwrap(), "2");
        assert!(uid_of(&tokens, "bay").is_err());
        assert!(uid_of(&tokens, "nobody").is_err());
    }

    #[cfg(unix)]
    #[test]
    fn the_secret_is_for_its_owner_only() {
        use std::os::unix::fs::PermissionsExt as _;
        let path = std::env::temp_dir().join(format!("baystart-secret-{}", std::process::id()));
        keep(new_file(&path).unwrap(), &path, "secret").unwrap();
        assert_eq!(std::fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o600);
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "secret\n");
        assert!(new_file(&path).is_err(), "never over a file that is there");
        std::fs::remove_file(&path).unwrap();
    }
}
