//! Stock set aside for one build line.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "reservation")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: Uuid,
    pub line: Uuid,
    pub part: Uuid,
    pub lot: String,
    pub made: i64,
    pub held: i64,
    pub issued: i64,
    pub released: i64,
    pub moved: i64,
}

impl ActiveModelBehavior for ActiveModel {}
