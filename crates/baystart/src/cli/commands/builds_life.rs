//! The life of a build: from quoted to delivered, stage by stage.

use crate::cli::fail::Failure;
use crate::cli::parse;
use crate::cli::session::{NOTHING, Session};
use crate::cli::show::text::quoted;
use baystart_proto::v1;

/// Steps of a build's life.
#[derive(Clone, Debug, clap::Subcommand)]
pub enum LifeCommand {
    /// It is agreed: bind its lines to stock and orders
    Open {
        /// The build's number
        number: String,
    },
    /// Put it on hold: it keeps what it has, and binds nothing more
    Hold {
        /// The build's number
        number: String,
        /// Why
        #[arg(long)]
        reason: String,
    },
    /// Take it off hold
    Resume {
        /// The build's number
        number: String,
    },
    /// Put it in the bay
    Bay {
        /// The build's number
        number: String,
    },
    /// Begin a stage
    Begin {
        /// The build's number
        number: String,
        /// The stage's name
        stage: String,
    },
    /// A stage is done
    Done {
        /// The build's number
        number: String,
        /// The stage's name
        stage: String,
    },
    /// All work is done: ready for handover
    Handover {
        /// The build's number
        number: String,
    },
    /// The customer has it; what it still holds is given back
    Deliver {
        /// The build's number
        number: String,
    },
    /// Cancel it; what it holds is given back
    Cancel {
        /// The build's number
        number: String,
        /// Why
        #[arg(long)]
        reason: String,
    },
}

/// Runs the command.
///
/// # Errors
/// The server refused, or the answer could not be written.
pub async fn run(s: &mut Session<'_>, command: LifeCommand) -> Result<(), Failure> {
    let occurred_on = s.on();
    match command {
        LifeCommand::Open { number } => {
            let request = v1::OpenBuildRequest {
                request_id: s.request_id(),
                build: parse::build(&number),
                occurred_on,
            };
            let response = s.builds().open_build(request).await?.into_inner();
            s.wrote(&response, NOTHING, Some(format!("forecast {}", quoted(&number))))
        }
        LifeCommand::Hold { number, reason } => {
            let request = v1::HoldBuildRequest {
                request_id: s.request_id(),
                build: parse::build(&number),
                reason,
                occurred_on,
            };
            let response = s.builds().hold_build(request).await?.into_inner();
            s.wrote(&response, NOTHING, Some(format!("build resume {}", quoted(&number))))
        }
        LifeCommand::Resume { number } => {
            let request = v1::ResumeBuildRequest {
                request_id: s.request_id(),
                build: parse::build(&number),
                occurred_on,
            };
            let response = s.builds().resume_build(request).await?.into_inner();
            s.wrote(&response, NOTHING, Some(format!("ready {}", quoted(&number))))
        }
        LifeCommand::Bay { number } => {
            let request = v1::PutInBayRequest {
                request_id: s.request_id(),
                build: parse::build(&number),
                occurred_on,
            };
            let response = s.builds().put_in_bay(request).await?.into_inner();
            let next = response.build.as_ref().and_then(next);
            s.wrote(&response, NOTHING, next)
        }
        LifeCommand::Begin { number, stage } => {
            let request = v1::BeginStageRequest {
                request_id: s.request_id(),
                build: parse::build(&number),
                stage_name: stage,
                occurred_on,
            };
            let response = s.builds().begin_stage(request).await?.into_inner();
            let next = response.build.as_ref().and_then(next);
            s.wrote(&response, NOTHING, next)
        }
        LifeCommand::Done { number, stage } => {
            let request = v1::FinishStageRequest {
                request_id: s.request_id(),
                build: parse::build(&number),
                stage_name: stage,
                occurred_on,
            };
            let response = s.builds().finish_stage(request).await?.into_inner();
            let next = response.build.as_ref().and_then(next);
            s.wrote(&response, NOTHING, next)
        }
        LifeCommand::Handover { number } => {
            let request = v1::MarkReadyForHandoverRequest {
                request_id: s.request_id(),
                build: parse::build(&number),
                occurred_on,
            };
            let response = s.builds().mark_ready_for_handover(request).await?.into_inner();
            s.wrote(&response, NOTHING, Some(format!("build deliver {}", quoted(&number))))
        }
        LifeCommand::Deliver { number } => {
            s.confirm(&format!(
                "Deliver build {number}? What it still holds is given back, and it ends."
            ))?;
            let request = v1::DeliverBuildRequest {
                request_id: s.request_id(),
                build: parse::build(&number),
                occurred_on,
            };
            let response = s.builds().deliver_build(request).await?.into_inner();
            s.wrote(&response, NOTHING, None)
        }
        LifeCommand::Cancel { number, reason } => {
            s.confirm(&format!(
                "Cancel build {number}? What it holds goes to other builds, and it ends."
            ))?;
            let request = v1::CancelBuildRequest {
                request_id: s.request_id(),
                build: parse::build(&number),
                reason,
                occurred_on,
            };
            let response = s.builds().cancel_build(request).await?.into_inner();
            s.wrote(&response, NOTHING, None)
        }
    }
}

/// The step that follows for a build in the bay: the first stage that is not
/// done is begun or finished, and after the last comes the handover.
fn next(build: &v1::Build) -> Option<String> {
    if v1::BuildState::try_from(build.state) != Ok(v1::BuildState::InBay) {
        return None;
    }
    let number = quoted(&build.number);
    for stage in &build.stages {
        let name = quoted(&stage.name);
        match v1::StageState::try_from(stage.state) {
            Ok(v1::StageState::Begun) => return Some(format!("build done {number} {name}")),
            Ok(v1::StageState::Waiting) => return Some(format!("build begin {number} {name}")),
            _ => {}
        }
    }
    Some(format!("build handover {number}"))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn the_next_step_in_the_bay() {
        let stage = |name: &str, state: v1::StageState| v1::Stage {
            name: name.into(),
            state: state.into(),
            ..v1::Stage::default()
        };
        let mut build = v1::Build {
            number: "B-1".into(),
            state: v1::BuildState::InBay.into(),
            stages: vec![
                stage("Strip", v1::StageState::Done),
                stage("Body work", v1::StageState::Waiting),
            ],
            ..v1::Build::default()
        };
        assert_eq!(next(&build).unwrap(), "build begin B-1 'Body work'");
        build.stages[1].state = v1::StageState::Begun.into();
        assert_eq!(next(&build).unwrap(), "build done B-1 'Body work'");
        build.stages[1].state = v1::StageState::Done.into();
        assert_eq!(next(&build).unwrap(), "build handover B-1");
        build.state = v1::BuildState::Open.into();
        assert_eq!(next(&build), None);
    }
}
