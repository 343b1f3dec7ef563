//! Compiles the API without a system protoc: descriptor set, Rust code, and
//! the table of the roles that each method admits.

use prost::Message as _;
use prost_reflect::{DescriptorPool, Value};
use std::error::Error;
use std::fmt::Write as _;
use std::path::PathBuf;
use std::{env, fs};

fn main() -> Result<(), Box<dyn Error>> {
    let root = PathBuf::from(env::var("CARGO_MANIFEST_DIR")?).join("../../proto");
    println!("cargo::rerun-if-changed={}", root.display());
    let mut files = Vec::new();
    for entry in fs::read_dir(root.join("baystart/v1"))? {
        files.push(entry?.path());
    }
    files.sort();

    let out = PathBuf::from(env::var("OUT_DIR")?);
    let mut compiler = protox::Compiler::new([&root])?;
    compiler.include_source_info(true).include_imports(true);
    compiler.open_files(&files)?;
    let bytes = compiler.encode_file_descriptor_set();
    fs::write(out.join("descriptors.bin"), &bytes)?;
    fs::write(out.join("roles.rs"), roles_table(&bytes)?)?;

    fs::write(out.join("alike.rs"), alike(&bytes)?)?;

    let mut config = tonic_prost_build::Config::new();
    config.enable_type_names();
    tonic_prost_build::configure()
        .build_transport(true)
        .compile_fds_with_config(prost_types_of(&bytes)?, config)?;
    Ok(())
}

fn prost_types_of(bytes: &[u8]) -> Result<tonic_prost_build::FileDescriptorSet, Box<dyn Error>> {
    Ok(tonic_prost_build::FileDescriptorSet::decode(bytes)?)
}

/// Rust source of what messages have in common: pages that are asked for, and commits that are answered.
fn alike(descriptors: &[u8]) -> Result<String, Box<dyn Error>> {
    let pool = DescriptorPool::decode(descriptors)?;
    let mut source = String::new();
    for message in pool.all_messages().filter(|m| m.package_name() == "baystart.v1") {
        let name = message.name();
        let has = |field: &str| message.get_field_by_name(field).is_some();
        if has("page_size") && has("page_token") {
            writeln!(
                source,
                "impl Paged for v1::{name} {{ fn page(&self) -> (i32, &str) {{ (self.page_size, \
                 &self.page_token) }} }}"
            )?;
        }
        if name.ends_with("Response") && has("commit") {
            writeln!(
                source,
                "impl Written for v1::{name} {{ fn commit(&self) -> Option<&v1::Commit> {{ \
                 self.commit.as_ref() }} }}"
            )?;
        }
    }
    Ok(source)
}

/// Rust source of `(path, roles)` pairs, read from the `roles` option.
fn roles_table(descriptors: &[u8]) -> Result<String, Box<dyn Error>> {
    let pool = DescriptorPool::decode(descriptors)?;
    let option =
        pool.get_extension_by_name("baystart.v1.roles").ok_or("the roles option is missing")?;
    let mut table = String::from("&[\n");
    for service in pool.services() {
        for method in service.methods() {
            let options = method.options();
            let mut roles = Vec::new();
            if let Value::List(values) = options.get_extension(&option).as_ref() {
                for value in values {
                    roles.extend(value.as_enum_number());
                }
            }
            writeln!(table, "    (\"/{}/{}\", &{roles:?}),", service.full_name(), method.name())?;
        }
    }
    table.push(']');
    Ok(table)
}
