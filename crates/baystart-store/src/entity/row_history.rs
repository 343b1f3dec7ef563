//! A state that a row once had.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "row_history")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub revision: i64,
    #[sea_orm(primary_key, auto_increment = false)]
    pub kind: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub other_id: Uuid,
    pub state: String,
    /// It is a wait that no order is: an awaited thing, a part at a finisher, work off site.
    pub waits_apart: bool,
}

impl ActiveModelBehavior for ActiveModel {}
