//! One committed command.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "change_log")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub revision: i64,
    pub recorded_at: DateTimeUtc,
    pub actor: String,
    pub token: Option<Uuid>,
    pub request: Uuid,
    pub command: String,
    pub subject: String,
    pub subject_id: Option<Uuid>,
    pub summary: String,
    /// That of the commit; None before commits had ids.
    pub commit_id: Option<Uuid>,
    /// The one that the commit found.
    pub commit_before: Option<Uuid>,
    /// It brought in rows of files, of which there may be no history.
    pub imports_history: bool,
}

impl ActiveModelBehavior for ActiveModel {}
