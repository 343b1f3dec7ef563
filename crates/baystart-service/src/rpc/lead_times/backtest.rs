//! The backtest: off the async threads, few at once, and no longer than somebody
//! listens.

use crate::fault;
use crate::shared::{Guest, Shared};
use baystart_core::backtest::{self, BacktestPlan, Event, Report};
use baystart_core::calendar::add_days;
use baystart_core::leadtime::learn::LearnSettings;
use baystart_core::refusal::Reason;
use baystart_proto::convert::BacktestAsked;
use baystart_proto::convert::wire;
use baystart_proto::v1;
use baystart_proto::v1::run_backtest_response::Event as Told;
use baystart_store::ShopHistory;
use jiff::civil::Date;
use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::sync::Arc;
use tokio::sync::mpsc;
use tokio_stream::wrappers::ReceiverStream;
use tonic::{Response, Status};

/// Days of orders before the first forecast day, where none is named.
const WARM_UP_DAYS: i64 = 90;
/// Messages that wait for a slow reader.
const WAITING_MAX: usize = 16;

type Sender = mpsc::Sender<Result<v1::RunBacktestResponse, Status>>;

/// Reads the history as it was recorded, and begins the walk.
pub(super) async fn run(
    shared: &Arc<Shared>,
    caller: &Guest,
    asked: BacktestAsked,
) -> Result<Response<super::Stream>, Status> {
    let place = shared.place(&shared.pools.backtests, caller, "backtests").await?;
    let held = Arc::clone(&caller.held);
    let mut history = shared.store.history(caller.shop).await.map_err(|e| fault::store(&e))?;
    let today = shared.clock.today(&history.settings.time_zone);
    let plan = plan(&history, asked, today)?;
    let codes = codes(&mut history);
    let (sender, receiver) = mpsc::channel(WAITING_MAX);
    let told = sender.clone();
    let walking = tokio::task::spawn_blocking(move || {
        let _places = (place, held);
        walk(&history, &plan, &codes, &sender)
    });
    let watch = async move {
        // Without this a panic would look like an end without a report.
        let outcome = walking.await.unwrap_or_else(|panic| Err(fault::internal(panic)));
        if let Err(status) = outcome {
            // The caller may have gone.
            let _ = told.send(Err(status)).await;
        }
    };
    tokio::spawn(watch);
    Ok(Response::new(Box::pin(ReceiverStream::new(receiver))))
}

fn plan(history: &ShopHistory, asked: BacktestAsked, today: Date) -> Result<BacktestPlan, Status> {
    let end = asked.end.unwrap_or(today);
    if end > today {
        let message = format!("{end} is after today, {today}: nothing is known of it yet");
        return Err(fault::field("end", Reason::DateInvalid, message));
    }
    let placed = history.history.lines.iter().map(|line| line.placed.on).min();
    let warm = placed.and_then(|day| add_days(day, WARM_UP_DAYS)).unwrap_or(end);
    let first = asked.first.unwrap_or(warm);
    Ok(BacktestPlan {
        step_days: asked.step_days,
        horizon_days: asked.horizon_days,
        baselines: !asked.brief,
        builds: !asked.brief,
        rho: history.settings.learning.correlation,
        ..BacktestPlan::over(first, end)
    })
}

/// Codes of the suppliers by key, of which the history is relieved of its names.
fn codes(history: &mut ShopHistory) -> BTreeMap<u32, String> {
    let labels = std::mem::take(&mut history.labels);
    let mut codes = BTreeMap::new();
    for (line, label) in history.history.lines.iter().zip(&labels) {
        codes.entry(line.supplier).or_insert_with(|| label.supplier_code.to_string());
    }
    codes
}

fn walk(
    history: &ShopHistory,
    plan: &BacktestPlan,
    codes: &BTreeMap<u32, String>,
    sender: &Sender,
) -> Result<(), Status> {
    let settings = LearnSettings::of(&history.settings.learning, history.settings.working_days);
    let mut tell = |event: Event<'_>| {
        if sender.is_closed() {
            return ControlFlow::Break(());
        }
        if let Event::Progress { done, days } = event {
            let progress = Told::Progress(wire::backtest_progress(done, days));
            // Progress is left out where the reader is slow.
            let _ = sender.try_send(Ok(v1::RunBacktestResponse { event: Some(progress) }));
        }
        ControlFlow::Continue(())
    };
    let report: Report =
        backtest::run(&history.history, plan, &settings, &mut tell).map_err(fault::internal)?;
    let lines = history.history.lines.len();
    let report = wire::backtest_report(&report, plan, lines, codes, history.revision);
    let event = Some(Told::Report(report));
    // The caller may have gone; then the walk was cut short, and nobody reads this.
    let _ = sender.blocking_send(Ok(v1::RunBacktestResponse { event }));
    Ok(())
}
