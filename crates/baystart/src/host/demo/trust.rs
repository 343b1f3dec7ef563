//! How far the demo's dates can be trusted, in a workshop's words; every figure
//! is the server's.

use super::morning::Client;
use crate::cli::connect::Server;
use crate::cli::fail::Failure;
use crate::cli::parse;
use crate::cli::settings::Settings;
use baystart_proto::v1;
use baystart_proto::v1::forecast_service_client::ForecastServiceClient;
use baystart_proto::v1::lead_time_service_client::LeadTimeServiceClient;
use baystart_proto::v1::run_backtest_response::Event;
use std::fmt::Write as _;
use std::io::Write;
use std::time::Duration;

/// Days between the forecast days of the backtest.
const STEP_DAYS: i32 = 7;
/// Days after a forecast day whose arrivals count.
const HORIZON_DAYS: i32 = 180;
/// Time that the demo gives a question.
const LIMIT: Duration = Duration::from_secs(60);

/// Prints what past orders say of the dates, and of the supplier that decides a
/// build's.
///
/// # Errors
/// The server refused.
pub async fn print(
    client: &Client,
    build: &str,
    out: &mut (dyn Write + Send),
) -> Result<(), Failure> {
    let settings =
        Settings { server: client.server.clone(), token_file: client.token.clone(), caution: None };
    let server = Server::connect(&settings, LIMIT).await?;
    let kept = kept(&server).await?;
    writeln!(out, "\n{}", sentence(&kept))?;
    if let Some(source) = decides(&server, build).await? {
        let request = v1::GetLeadTimeProfileRequest {
            supplier: parse::supplier(&source.supplier_code),
            ..Default::default()
        };
        let mut lead_times = LeadTimeServiceClient::new(server.connection());
        let response = lead_times.get_lead_time_profile(request).await?.into_inner();
        if let Some(profile) = &response.profile {
            writeln!(out, "{}", of_supplier(&source.part_number, profile))?;
            writeln!(
                out,
                "Look closer: baystart backtest; baystart lead-times {}",
                profile.supplier_code
            )?;
        }
    }
    Ok(())
}

/// How the dates of past orders were kept.
async fn kept(server: &Server) -> Result<v1::BacktestKept, Failure> {
    let request = v1::RunBacktestRequest {
        step_days: Some(STEP_DAYS),
        horizon_days: Some(HORIZON_DAYS),
        brief: true,
        ..Default::default()
    };
    let mut lead_times = LeadTimeServiceClient::new(server.unlimited());
    let mut events = lead_times.run_backtest(request).await?.into_inner();
    while let Some(response) = events.message().await? {
        if let Some(Event::Report(report)) = response.event {
            return Ok(report.kept.unwrap_or_default());
        }
    }
    Err(Failure::Internal("the server ended the backtest without a report".to_owned()))
}

/// What decides a build's date the most, if a supplier does.
async fn decides(server: &Server, build: &str) -> Result<Option<v1::ForecastSource>, Failure> {
    let request = v1::ForecastBuildRequest { build: parse::build(build), ..Default::default() };
    let mut forecasts = ForecastServiceClient::new(server.connection());
    let response = forecasts.forecast_build(request).await?.into_inner();
    let sources = response.forecast.unwrap_or_default().sources;
    let of_suppliers = sources.into_iter().filter(|source| !source.supplier_code.is_empty());
    Ok(of_suppliers.max_by(|a, b| a.gating_probability.total_cmp(&b.gating_probability)))
}

fn sentence(kept: &v1::BacktestKept) -> String {
    if kept.orders == 0 {
        return "How far to trust these dates: no past order is old enough to say.".to_owned();
    }
    let (orders, by, said) = (kept.orders, kept.by_80, kept.said_80);
    format!(
        "How far to trust these dates: of {orders} past orders, {by} came by the 80 % date; {said:.0} were said to."
    )
}

/// A supplier in one line.
fn of_supplier(part: &str, profile: &v1::LeadTimeProfile) -> String {
    let code = &profile.supplier_code;
    let all = profile.all.unwrap_or_default();
    let mut text = format!("{part} from {code} decides the most. ");
    if all.orders == 0 {
        let _ = write!(text, "Nothing was ever ordered from {code} before.");
        return text;
    }
    let _ = write!(text, "Of {code}'s {} orders", all.orders);
    match (all.days_50, all.days_80) {
        (Some(half), Some(most)) => {
            let _ = write!(text, " half came within {half} days and 80 % within {most}");
        }
        (Some(half), None) => {
            let _ = write!(text, " half came within {half} days");
        }
        _ => {
            let _ = write!(text, " {} came", profile.orders_received);
        }
    }
    if profile.orders_promised > 0 {
        let (kept, promised) = (profile.orders_on_time, profile.orders_promised);
        let _ = write!(text, "; of {promised} first promises it kept {kept}");
    }
    text.push('.');
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn in_a_workshops_words() {
        let kept =
            v1::BacktestKept { orders: 214, by_80: 171, said_80: 172.4, ..Default::default() };
        let expected = "How far to trust these dates: of 214 past orders, 171 came by the 80 % date; 172 were said to.";
        assert_eq!(sentence(&kept), expected);
        assert!(sentence(&v1::BacktestKept::default()).contains("no past order"));
    }

    #[test]
    fn a_supplier_in_one_line() {
        let all = |days_50, days_80| {
            Some(v1::LeadTimeReach { orders: 26, days_50, days_80, days_95: None })
        };
        let profile = v1::LeadTimeProfile {
            supplier_code: "CORRIE".into(),
            all: all(Some(12), Some(19)),
            orders_received: 3,
            orders_on_time: 9,
            orders_promised: 20,
            ..Default::default()
        };
        let expected = "HD-1 from CORRIE decides the most. Of CORRIE's 26 orders half came within 12 days and 80 % \
                        within 19; of 20 first promises it kept 9.";
        assert_eq!(of_supplier("HD-1", &profile), expected);
        let few =
            v1::LeadTimeProfile { all: all(None, None), orders_promised: 0, ..profile.clone() };
        assert!(of_supplier("HD-1", &few).ends_with("26 orders 3 came."));
        let new = v1::LeadTimeProfile { all: None, ..profile };
        assert!(of_supplier("HD-1", &new).contains("Nothing was ever ordered"));
    }
}
