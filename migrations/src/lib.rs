//! Migrations.
