//! What the API costs, beside what it stands on, in one run: reads beside a
//! bare unary echo, reservations beside the plain statements without ORM and
//! RPC, for one caller and for sixteen at once.
//!
//! Needs `BAYSTART_TEST_POSTGRES`. The medians and their ratios are printed at
//! the end; only the ratios of one run mean anything.
#![allow(missing_docs)]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod client;
mod plain;
mod reads;
mod reserve;
mod table;

use criterion::{BenchmarkId, Criterion};
use std::future::Future;
use std::time::{Duration, Instant};
use tokio::runtime::{Builder, Runtime};

/// Callers at once.
const AT_ONCE: [usize; 2] = [1, 16];

/// Measures one call, made by each of `callers` again and again; the time is
/// that of the whole by the number of calls.
fn measure<C, F>(
    criterion: &mut Criterion,
    runtime: &Runtime,
    (group, name): (&str, &str),
    callers: Vec<C>,
    call: fn(C) -> F,
) where
    C: Clone + Send + 'static,
    F: Future<Output = C> + Send + 'static,
{
    let mut group = criterion.benchmark_group(group);
    group.sample_size(30).warm_up_time(Duration::from_secs(1));
    group.measurement_time(Duration::from_secs(4));
    let id = BenchmarkId::new(name, callers.len());
    let at_once = u32::try_from(callers.len()).expect("few callers");
    group.bench_function(id, |bencher| {
        bencher.iter_custom(|calls| {
            let each = calls.div_ceil(u64::from(at_once));
            let callers = callers.clone();
            let took = runtime.block_on(async move {
                let since = Instant::now();
                let mut tasks = Vec::new();
                for mut caller in callers {
                    tasks.push(tokio::spawn(async move {
                        for _ in 0..each {
                            caller = call(caller).await;
                        }
                    }));
                }
                for task in tasks {
                    task.await.expect("a caller ends");
                }
                since.elapsed()
            });
            #[allow(clippy::cast_precision_loss)]
            let share = calls as f64 / (each * u64::from(at_once)) as f64;
            took.mul_f64(share)
        });
    });
    group.finish();
}

fn main() {
    let runtime = Builder::new_multi_thread().enable_all().build().expect("a runtime");
    let mut criterion = Criterion::default().configure_from_args();
    reads::bench(&mut criterion, &runtime);
    reserve::bench(&mut criterion, &runtime);
    criterion.final_summary();
    table::print();
}
