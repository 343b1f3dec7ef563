//! The database's steps, one file each, forward only. Never edit a step that
//! was released: add one.
//!
//! Rules that hold in every table: the shop stands first in every primary,
//! unique and foreign key; no sequence; no uniqueness beyond one shop;
//! quantities are whole thousandths, money whole ten-thousandths.

mod m0001_shop_and_catalogue;
mod m0002_stock;
mod m0003_builds;
mod m0004_orders;
mod m0005_ledger;
mod m0006_log_and_access;
mod m0007_history;
mod m0008_every_line;
mod m0009_bays;
mod m0012_customer_promises;
mod m0013_stocked_parts;
mod m0014_recorded_token;
mod m0015_past_batches;
mod m0016_normal_numbers;
mod m0017_ways;
mod m0018_tuned;
mod m0019_commit_id;
mod m0020_taken_back;
mod m0021_waits_apart;
mod sql;

use sea_orm_migration::MigrationTrait;
pub use sea_orm_migration::MigratorTrait;
use sea_orm_migration::prelude::DbErr;
use sea_orm_migration::sea_orm::{ConnectionTrait as _, DatabaseConnection, DbBackend};

/// Runs the steps that a database still lacks.
#[derive(Debug)]
pub struct Migrator;

impl MigratorTrait for Migrator {
    fn migrations() -> Vec<Box<dyn MigrationTrait>> {
        vec![
            Box::new(m0001_shop_and_catalogue::Step),
            Box::new(m0002_stock::Step),
            Box::new(m0003_builds::Step),
            Box::new(m0004_orders::Step),
            Box::new(m0005_ledger::Step),
            Box::new(m0006_log_and_access::Step),
            Box::new(m0007_history::Step),
            Box::new(m0008_every_line::Step),
            Box::new(m0009_bays::Step),
            Box::new(m0012_customer_promises::Step),
            Box::new(m0013_stocked_parts::Step),
            Box::new(m0014_recorded_token::Step),
            Box::new(m0015_past_batches::Step),
            Box::new(m0016_normal_numbers::Step),
            Box::new(m0017_ways::Step),
            Box::new(m0018_tuned::Step),
            Box::new(m0019_commit_id::Step),
            Box::new(m0020_taken_back::Step),
            Box::new(m0021_waits_apart::Step),
        ]
    }
}

/// Runs the steps that a database still lacks, and renews every shop's commit id if there were any: what
/// servers keep of the shops may have been of another form.
///
/// # Errors
/// The database refuses a step, or cannot be reached.
pub async fn up(database: &DatabaseConnection) -> Result<(), DbErr> {
    let steps = Migrator::get_pending_migrations(database).await?.len();
    Migrator::up(database, None).await?;
    if steps > 0 {
        let fresh = match database.get_database_backend() {
            DbBackend::Sqlite => "randomblob(16)",
            _ => "gen_random_uuid()",
        };
        let renew = format!("UPDATE shop SET commit_id = {fresh}");
        database.execute_unprepared(&renew).await?;
    }
    Ok(())
}
