//! One requirement of a build.

use sea_orm::entity::prelude::*;

#[sea_orm::model]
#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "build_line")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: Uuid,
    pub build: Uuid,
    pub stage: Uuid,
    pub number: i64,
    pub part: Uuid,
    pub required: i64,
    pub issued: i64,
    pub kit_line: i64,
    pub exploded: bool,
    pub made_for: i64,
    pub making: Option<String>,
    pub customer_supplied: bool,
    pub substituted: Option<String>,
}

impl ActiveModelBehavior for ActiveModel {}
