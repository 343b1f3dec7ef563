//! Builds with stages and lines, each brought to the state that it is in; each
//! is booked once.

use super::super::columns::Kind;
use super::super::{Cells, Row, rows};
use super::{Earlier, Outcome, Run, Told, differs, digest, stood};
use baystart_core::book::model::BuildState;
use baystart_core::command::{BuildCommand, Command, NewLine, NewStage};
use baystart_core::refs::Ref;
use baystart_core::refusal::{FieldPath, Refusal};
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Under which kind builds are remembered.
const KEPT_AS: &str = "build";

/// A build's row with the rows of all that belongs to it.
pub(super) struct Sheet<'a> {
    pub(super) build: &'a Row<rows::Build>,
    pub(super) stages: Vec<&'a Row<rows::Stage>>,
    pub(super) lines: Vec<&'a Row<rows::Line>>,
    pub(super) awaited: Vec<&'a Row<rows::Awaited>>,
    pub(super) bindings: Vec<&'a Row<rows::Binding>>,
}

impl Sheet<'_> {
    fn cells(&self) -> impl Iterator<Item = &Cells> {
        let stages = self.stages.iter().map(|row| &row.cells);
        let lines = self.lines.iter().map(|row| &row.cells);
        let awaited = self.awaited.iter().map(|row| &row.cells);
        let bindings = self.bindings.iter().map(|row| &row.cells);
        let first = std::iter::once(&self.build.cells);
        first.chain(stages).chain(lines).chain(awaited).chain(bindings)
    }

    /// Whether the rows say how the build stood, line by line.
    fn stood(&self) -> bool {
        let build = &self.build.value;
        let numbered = self.lines.iter().any(|row| row.value.stood.is_some());
        numbered || build.is_as_it_stood()
    }

    fn begun_on(&self) -> Option<Date> {
        self.stages.iter().filter_map(|row| row.value.begun_on).min()
    }

    fn done_on(&self) -> Option<Date> {
        self.stages.iter().filter_map(|row| row.value.done_on).max()
    }

    /// The row and column that a fault of the build's making is about.
    pub(super) fn whose(&self, field: &FieldPath) -> (Kind, Cells, &'static str) {
        let stage = field.row_of("stages").and_then(|i| self.stages.get(i));
        let line = field.row_of("lines").and_then(|i| self.lines.get(i));
        match (stage, line) {
            (Some(stage), _) => (Kind::Stages, stage.cells.clone(), "stage"),
            (_, Some(line)) => (Kind::BuildLines, line.cells.clone(), "part"),
            _ => (Kind::Builds, self.build.cells.clone(), "build"),
        }
    }
}

pub(super) fn builds(run: &mut Run<'_, '_, '_>) {
    let mut stages: BTreeMap<&str, Vec<&Row<rows::Stage>>> = BTreeMap::new();
    for row in &run.sheets.stages {
        stages.entry(row.value.build.normal()).or_default().push(row);
    }
    let mut lines: BTreeMap<&str, Vec<&Row<rows::Line>>> = BTreeMap::new();
    for row in &run.sheets.lines {
        lines.entry(row.value.build.normal()).or_default().push(row);
    }
    let mut awaited: BTreeMap<&str, Vec<&Row<rows::Awaited>>> = BTreeMap::new();
    for row in &run.sheets.awaited {
        awaited.entry(row.value.build.normal()).or_default().push(row);
    }
    let mut bindings: BTreeMap<&str, Vec<&Row<rows::Binding>>> = BTreeMap::new();
    for row in &run.sheets.bindings {
        bindings.entry(row.value.build.normal()).or_default().push(row);
    }
    let mut sheets = Vec::new();
    for build in &run.sheets.builds {
        let number = build.value.number.normal();
        sheets.push(Sheet {
            build,
            stages: stages.remove(number).unwrap_or_default(),
            lines: lines.remove(number).unwrap_or_default(),
            awaited: awaited.remove(number).unwrap_or_default(),
            bindings: bindings.remove(number).unwrap_or_default(),
        });
    }
    // Who is served first binds first.
    sheets.sort_by_key(|sheet| {
        let fields = &sheet.build.value.fields;
        let day = fields.planned_start.or(fields.required_by).unwrap_or(Date::MAX);
        (fields.priority, day)
    });
    for sheet in &sheets {
        build(run, sheet);
    }
}

fn build(run: &mut Run<'_, '_, '_>, sheet: &Sheet<'_>) {
    let row = &sheet.build.value;
    let digest = digest(sheet.cells());
    match run.earlier(KEPT_AS, row.number.normal(), &digest) {
        Earlier::Never => {}
        Earlier::Same => {
            for cells in sheet.cells() {
                run.done(cells, Outcome::Unchanged);
            }
            return;
        }
        Earlier::Other => {
            let reason = format!("{} (its stages and lines included)", differs());
            run.bad(sheet.build.cells.bad("build", reason));
            return;
        }
    }
    run.new_builds.push(Ref::Number(row.number.clone()));
    let made = if sheet.stood() { stood::build(run, sheet) } else { begin(run, sheet) };
    if !made || !stood::awaited(run, sheet) {
        return;
    }
    run.imported(KEPT_AS, row.number.normal(), digest);
    for cells in sheet.cells() {
        run.done(cells, Outcome::Created);
    }
}

/// Makes the build and brings it to its state; whether that went well.
fn begin(run: &mut Run<'_, '_, '_>, sheet: &Sheet<'_>) -> bool {
    let row = &sheet.build.value;
    if let Err(refusal) = run.decide(&create(sheet)) {
        run.refused(Kind::Builds, &refusal, |field| sheet.whose(field));
        return false;
    }
    if !advance(run, sheet) {
        return false;
    }
    let keeps = matches!(row.state, BuildState::OnHold | BuildState::Cancelled);
    if !row.note.is_empty() && !keeps {
        let (build, note) = (row.number.clone(), row.note.clone());
        run.tell(Told::NoteNotKept { build, note });
    }
    true
}

fn create(sheet: &Sheet<'_>) -> Command {
    let stage = |row: &&Row<rows::Stage>| NewStage {
        name: row.value.name.clone(),
        planned_days: row.value.planned_days,
        off_site: row.value.off_site.clone().map(Ref::Number),
    };
    let line = |row: &&Row<rows::Line>| NewLine {
        stage: row.value.stage.clone(),
        part: Ref::Number(row.value.part.clone()),
        quantity: row.value.quantity,
        unit: None,
        fitted_before: row.value.issued,
        customer_supplied: row.value.customer_supplied,
    };
    let row = &sheet.build.value;
    Command::Build(BuildCommand::Create {
        number: row.number.clone(),
        fields: row.fields.clone(),
        stages: sheet.stages.iter().map(stage).collect(),
        lines: sheet.lines.iter().map(line).collect(),
        for_stock: row.for_stock,
    })
}

/// Brings a new build to its state; whether that went well.
fn advance(run: &mut Run<'_, '_, '_>, sheet: &Sheet<'_>) -> bool {
    let row = &sheet.build.value;
    let build = || Ref::Number(row.number.clone());
    let begun = sheet.begun_on();
    let worked_on = match row.state {
        BuildState::Quoted | BuildState::Open => false,
        BuildState::InBay | BuildState::ReadyForHandover | BuildState::Delivered => true,
        BuildState::OnHold | BuildState::Cancelled => begun.is_some(),
    };
    if !worked_on && begun.is_some() {
        for stage in sheet.stages.iter().filter(|stage| stage.value.begun_on.is_some()) {
            let reason = format!("the build is {}: its stages are not begun", row.state);
            run.bad(stage.cells.bad("begun_on", reason));
        }
        return false;
    }
    let opened = worked_on || matches!(row.state, BuildState::Open | BuildState::OnHold);
    let mut steps: Vec<BuildCommand> = Vec::new();
    if opened {
        steps.push(BuildCommand::Open { build: build(), occurred_on: None });
    }
    if worked_on {
        steps.push(BuildCommand::PutInBay { build: build(), occurred_on: begun });
    }
    for step in steps {
        if !take(run, step, |_| sheet.whose(&FieldPath::new())) {
            return false;
        }
    }
    for stage in &sheet.stages {
        if !work(run, &build(), stage) {
            return false;
        }
    }
    let reason = match row.note.is_empty() {
        true => format!("{} when it was imported", row.state),
        false => row.note.clone(),
    };
    let occurred_on = sheet.done_on();
    let ready = BuildCommand::MarkReady { build: build(), occurred_on };
    let last = match row.state {
        BuildState::Quoted | BuildState::Open | BuildState::InBay => vec![],
        BuildState::ReadyForHandover => vec![ready],
        BuildState::Delivered => vec![ready, BuildCommand::Deliver { build: build(), occurred_on }],
        BuildState::OnHold => {
            vec![BuildCommand::Hold { build: build(), reason, occurred_on: None }]
        }
        BuildState::Cancelled => {
            vec![BuildCommand::Cancel { build: build(), reason, occurred_on: None }]
        }
    };
    let state = |_: &FieldPath| (Kind::Builds, sheet.build.cells.clone(), "state");
    last.into_iter().all(|step| take(run, step, state))
}

/// A stage's days, where it has any.
fn work(run: &mut Run<'_, '_, '_>, build: &Ref, stage: &Row<rows::Stage>) -> bool {
    let name = stage.value.name.written().to_owned();
    if let Some(day) = stage.value.begun_on {
        let (build, stage_name) = (build.clone(), name.clone());
        let step = BuildCommand::BeginStage { build, stage: stage_name, occurred_on: Some(day) };
        if !take(run, step, |_| (Kind::Stages, stage.cells.clone(), "begun_on")) {
            return false;
        }
    }
    if let Some(day) = stage.value.done_on {
        let build = build.clone();
        let step = BuildCommand::FinishStage { build, stage: name, occurred_on: Some(day) };
        return take(run, step, |_| (Kind::Stages, stage.cells.clone(), "done_on"));
    }
    true
}

fn take(
    run: &mut Run<'_, '_, '_>,
    step: BuildCommand,
    whose: impl Fn(&FieldPath) -> (Kind, Cells, &'static str),
) -> bool {
    let result: Result<(), Refusal> = run.decide(&Command::Build(step));
    match result {
        Ok(()) => true,
        Err(refusal) => {
            run.refused(Kind::Builds, &refusal, whose);
            false
        }
    }
}
