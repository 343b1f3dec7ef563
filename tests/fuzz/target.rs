//! Every target in one program: BAYSTART_FUZZ_TARGET names the one.
#![no_main]

use libfuzzer_sys::fuzz_target;
use std::sync::LazyLock;

static TARGET: LazyLock<String> =
    LazyLock::new(|| std::env::var("BAYSTART_FUZZ_TARGET").expect("BAYSTART_FUZZ_TARGET"));

fuzz_target!(|bytes: &[u8]| baystart_service::fuzz::run(&TARGET, bytes));
