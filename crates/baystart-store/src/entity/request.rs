//! A request that took effect, with its answer.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "request")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: Uuid,
    pub digest: Vec<u8>,
    pub revision: i64,
    pub response: Vec<u8>,
}

impl ActiveModelBehavior for ActiveModel {}
