//! Requests of BuildService that concern a build's life and lines.

use super::{Reader, Unread, Write};
use crate::v1;
use baystart_core::command::{BuildCommand, BuildFields, Command, NewLine, NewStage};
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use baystart_core::refusal::{FieldPath, Reason, nth};
use jiff::civil::Date;
use uuid::Uuid;

/// Priority of a build that names none.
pub const PRIORITY_DEFAULT: i32 = 100;

fn fields(
    read: &mut Reader,
    vehicle: &str,
    customer: &str,
    priority: i32,
    planned_start: Option<&v1::Date>,
    required_by: Option<&v1::Date>,
    staging_bin: Option<&v1::BinRef>,
) -> Option<BuildFields> {
    let vehicle = read.need_text("vehicle", vehicle);
    let customer = read.text("customer", customer);
    if priority < 0 {
        let message = format!("{priority} is less than 1, which is served first");
        read.fault("priority", Reason::ValueInvalid, message);
    }
    let planned_start = read.date("planned_start", planned_start);
    let required_by = read.date("required_by", required_by);
    let staging_bin = match staging_bin {
        None => Some(None),
        Some(bin) => read.bin("staging_bin", Some(bin)).map(Some),
    };
    Some(BuildFields {
        vehicle: vehicle?,
        customer: customer?,
        priority: if priority == 0 { PRIORITY_DEFAULT } else { priority },
        planned_start: planned_start?,
        required_by: required_by?,
        staging_bin: staging_bin?,
    })
}

/// Reads a new build with stages and lines.
///
/// # Errors
/// Every field that does not read.
pub fn create_build(request: &v1::CreateBuildRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let number = read.number("number", &request.number);
    let fields = fields(
        &mut read,
        &request.vehicle,
        &request.customer,
        request.priority,
        request.planned_start.as_ref(),
        request.required_by.as_ref(),
        request.staging_bin.as_ref(),
    );
    let stages = stages(&mut read, &request.stages);
    let lines = lines(&mut read, "lines", &request.lines, false);
    read.write(id, || {
        let (number, fields, lines) = (number?, fields?, lines?);
        let for_stock = request.for_stock;
        Some(Command::Build(BuildCommand::Create { number, fields, stages, lines, for_stock }))
    })
}

/// Reads stages, of which there is at least one; those that did not read are left out.
pub(super) fn stages(read: &mut Reader, wire: &[v1::NewStage]) -> Vec<NewStage> {
    let mut stages = Vec::new();
    if !read.list("stages", wire, true) {
        return stages;
    }
    for (i, stage) in wire.iter().enumerate() {
        let name = read.number(nth("stages", i).then("name"), &stage.name);
        let days = read.whole(nth("stages", i).then("planned_days"), stage.planned_days);
        let off_site = match &stage.off_site {
            None => Some(None),
            Some(firm) => read.supplier(nth("stages", i).then("off_site"), Some(firm)).map(Some),
        };
        let (Some(name), Some(planned_days)) = (name, days) else { continue };
        let Some(off_site) = off_site else { continue };
        stages.push(NewStage { name, planned_days, off_site });
    }
    stages
}

/// Reads the lines of a list field; None where there are too many, or none and one is needed.
pub(super) fn lines(
    read: &mut Reader,
    field: impl Into<FieldPath>,
    wire: &[v1::NewBuildLine],
    needed: bool,
) -> Option<Vec<NewLine>> {
    let field = &field.into();
    if !read.list(field, wire, needed) {
        return None;
    }
    let mut out = Vec::new();
    for (i, line) in wire.iter().enumerate() {
        let at = |name: &'static str| nth(field, i).then(name);
        let stage = read.need_text(at("stage_name"), &line.stage_name);
        let part = read.part(at("part"), line.part.as_ref());
        let quantity = read.quantity(at("quantity"), line.quantity.as_ref());
        let unit = read.maybe_unit(at("unit_code"), &line.unit_code);
        let (Some(stage), Some(part)) = (stage, part) else { continue };
        let (Some(quantity), Some(unit)) = (quantity, unit) else { continue };
        let (fitted_before, customer_supplied) = (Quantity::ZERO, line.customer_supplied);
        out.push(NewLine { stage, part, quantity, unit, fitted_before, customer_supplied });
    }
    Some(out)
}

/// Reads a build's new fields.
///
/// # Errors
/// Every field that does not read.
pub fn update_build(request: &v1::UpdateBuildRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let build = read.build("build", request.build.as_ref());
    let fields = fields(
        &mut read,
        &request.vehicle,
        &request.customer,
        request.priority,
        request.planned_start.as_ref(),
        request.required_by.as_ref(),
        request.staging_bin.as_ref(),
    );
    let etag = request.etag.clone();
    read.write(id, || {
        Some(Command::Build(BuildCommand::Update { build: build?, fields: fields?, etag }))
    })
}

/// Reads lines to add.
///
/// # Errors
/// Every field that does not read.
pub fn add_build_lines(request: &v1::AddBuildLinesRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let build = read.build("build", request.build.as_ref());
    let lines = lines(&mut read, "lines", &request.lines, true);
    read.write(id, || Some(Command::Build(BuildCommand::AddLines { build: build?, lines: lines? })))
}

/// Reads a change of one line.
///
/// # Errors
/// Every field that does not read.
pub fn change_build_line(request: &v1::ChangeBuildLineRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let line = read.build_line("line", request.line.as_ref());
    let quantity = match &request.quantity {
        None => Some(None),
        Some(decimal) => read.signed("quantity", Some(decimal)).map(Some),
    };
    if let Some(negative) = quantity.flatten().filter(|quantity| quantity.is_negative()) {
        let message = format!("{negative} is below 0; 0 takes the line off");
        read.fault("quantity", Reason::QuantityInvalid, message);
    }
    let stage = read.text("stage_name", &request.stage_name);
    if request.quantity.is_none() && request.stage_name.trim().is_empty() {
        read.fault("quantity", Reason::FieldMissing, "a quantity or a stage is needed");
    }
    read.write(id, || {
        let (build, line) = line?;
        let (quantity, stage) = (quantity?, Some(stage?).filter(|stage| !stage.is_empty()));
        Some(Command::Build(BuildCommand::ChangeLine { build, line, quantity, stage }))
    })
}

/// What most steps of a build's life are asked with.
struct Step<'a> {
    request_id: &'a str,
    build: Option<&'a v1::BuildRef>,
    occurred_on: Option<&'a v1::Date>,
}

fn step(
    step: &Step<'_>,
    make: impl FnOnce(&mut Reader) -> Option<Box<dyn FnOnce(Ref, Option<Date>) -> BuildCommand>>,
) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id: Option<Uuid> = read.request_id(step.request_id);
    let build = read.build("build", step.build);
    let occurred_on = read.date("occurred_on", step.occurred_on);
    let make = make(&mut read);
    read.write(id, || Some(Command::Build(make?(build?, occurred_on?))))
}

macro_rules! steps {
    ($($(#[$doc:meta])* $name:ident $request:ident $command:ident;)*) => {$(
        $(#[$doc])*
        ///
        /// # Errors
        /// Every field that does not read.
        pub fn $name(request: &v1::$request) -> Result<Write, Unread> {
            let asked = Step {
                request_id: &request.request_id,
                build: request.build.as_ref(),
                occurred_on: request.occurred_on.as_ref(),
            };
            step(&asked, |_| {
                Some(Box::new(|build, occurred_on| BuildCommand::$command { build, occurred_on }))
            })
        }
    )*};
}

steps! {
    /// Reads a build to open.
    open_build OpenBuildRequest Open;
    /// Reads a build to take off hold.
    resume_build ResumeBuildRequest Resume;
    /// Reads a build to put in the bay.
    put_in_bay PutInBayRequest PutInBay;
    /// Reads a build that is ready for handover.
    mark_ready_for_handover MarkReadyForHandoverRequest MarkReady;
    /// Reads a build that was delivered.
    deliver_build DeliverBuildRequest Deliver;
}

/// Why a build is held or cancelled, or which of its stages is meant: one more
/// text that is needed.
macro_rules! steps_with_text {
    ($($(#[$doc:meta])* $name:ident $request:ident $wire:ident $command:ident $field:ident;)*) => {$(
        $(#[$doc])*
        ///
        /// # Errors
        /// Every field that does not read.
        pub fn $name(request: &v1::$request) -> Result<Write, Unread> {
            let asked = Step {
                request_id: &request.request_id,
                build: request.build.as_ref(),
                occurred_on: request.occurred_on.as_ref(),
            };
            step(&asked, |read| {
                let $field = read.need_text(stringify!($wire), &request.$wire)?;
                Some(Box::new(move |build, occurred_on| BuildCommand::$command {
                    build,
                    $field,
                    occurred_on,
                }))
            })
        }
    )*};
}

steps_with_text! {
    /// Reads a build to put on hold.
    hold_build HoldBuildRequest reason Hold reason;
    /// Reads a build to cancel.
    cancel_build CancelBuildRequest reason Cancel reason;
    /// Reads a stage that was begun.
    begin_stage BeginStageRequest stage_name BeginStage stage;
    /// Reads a stage that is done.
    finish_stage FinishStageRequest stage_name FinishStage stage;
}
