//! A build's life and lines.

use super::answer::{not_here, refused};
use super::rows::{BuildRow, LineRow, StageRow};
use super::{Answer, Faults, Model, Now};
use baystart_core::book::model::BuildState;
use baystart_core::command::{BuildCommand, BuildFields, Command, NewLine, NewStage};
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use baystart_core::refusal::Reason;
use jiff::civil::Date;

use BuildState::{Cancelled, Delivered, InBay, OnHold, Open, Quoted, ReadyForHandover};

impl Model {
    pub(super) fn play_build(&mut self, command: &BuildCommand, now: &Now<'_>) -> Answer {
        self.build(command, now).err().unwrap_or(Answer::Accepted)
    }

    fn build(&mut self, command: &BuildCommand, now: &Now<'_>) -> Result<(), Answer> {
        match command {
            BuildCommand::PromiseDelivery { .. }
            | BuildCommand::Substitute { .. }
            | BuildCommand::AddAwaited { .. }
            | BuildCommand::ExpectAwaited { .. }
            | BuildCommand::ReceiveAwaited { .. }
            | BuildCommand::DropAwaited { .. } => Err(not_here(&Command::Build(command.clone()))),
            BuildCommand::Create { number, fields, stages, lines, .. } => {
                self.create_build(number.normal(), fields, stages, lines, now)
            }
            BuildCommand::Update { build, fields, etag } => {
                let mut faults = Faults::default();
                fields_faults(&mut faults, fields);
                let build = self.build_named(&mut faults, build, now);
                faults.check()?;
                let Some(row) = build.and_then(|b| self.builds.get_mut(&b)) else { return Ok(()) };
                if *etag != format!("v{}", row.version) {
                    return Err(refused(Reason::EtagMismatch));
                }
                row.version += 1;
                (row.priority, row.planned_start) = (fields.priority, fields.planned_start);
                row.required_by = fields.required_by;
                Ok(())
            }
            BuildCommand::AddLines { build, lines } => self.add_lines(build, lines, now),
            BuildCommand::ChangeLine { build, line, quantity, stage } => {
                self.change_line(build, *line, *quantity, stage.as_deref(), now)
            }
            BuildCommand::Open { build, occurred_on } => {
                let number = self.state(build, *occurred_on, &[Quoted], now)?;
                let Some(row) = self.builds.get(&number) else { return Ok(()) };
                let mut opened = row.clone();
                for line in &row.lines {
                    self.explode(&mut opened, line.number)?;
                }
                opened.state = Open;
                opened.opened_at = Some(now.recorded_at);
                opened.version += 1;
                self.builds.insert(number, opened);
                Ok(())
            }
            BuildCommand::Hold { build, reason, occurred_on } => {
                reason_needed(reason)?;
                let number = self.state(build, *occurred_on, &[Open, InBay], now)?;
                self.step(&number, |row| {
                    row.held_from = Some(row.state);
                    row.state = OnHold;
                });
                Ok(())
            }
            BuildCommand::Resume { build, occurred_on } => {
                let number = self.state(build, *occurred_on, &[OnHold], now)?;
                self.step(&number, |row| row.state = row.held_from.take().unwrap_or(Open));
                Ok(())
            }
            BuildCommand::PutInBay { build, occurred_on } => {
                let number = self.state(build, *occurred_on, &[Open], now)?;
                self.step(&number, |row| row.state = InBay);
                Ok(())
            }
            BuildCommand::BeginStage { build, stage, occurred_on } => {
                self.stage(build, stage, *occurred_on, true, now)
            }
            BuildCommand::FinishStage { build, stage, occurred_on } => {
                self.stage(build, stage, *occurred_on, false, now)
            }
            BuildCommand::MarkReady { build, occurred_on } => {
                let number = self.state(build, *occurred_on, &[InBay], now)?;
                let row = self.builds.get(&number);
                if row.is_some_and(|row| row.stages.iter().any(|stage| stage.done.is_none())) {
                    return Err(refused(Reason::StagesOpen));
                }
                self.step(&number, |row| row.state = ReadyForHandover);
                Ok(())
            }
            BuildCommand::Deliver { build, occurred_on } => {
                let number = self.state(build, *occurred_on, &[ReadyForHandover], now)?;
                self.step(&number, |row| row.state = Delivered);
                Ok(())
            }
            BuildCommand::Cancel { build, reason, occurred_on } => {
                reason_needed(reason)?;
                let from = &[Quoted, Open, OnHold, InBay, ReadyForHandover];
                let number = self.state(build, *occurred_on, from, now)?;
                self.step(&number, |row| row.state = Cancelled);
                Ok(())
            }
        }
    }

    fn step(&mut self, number: &str, change: impl FnOnce(&mut BuildRow)) {
        if let Some(row) = self.builds.get_mut(number) {
            change(row);
            row.version += 1;
        }
    }

    /// The build's number, if day and state allow the step.
    fn state(
        &self,
        build: &Ref,
        occurred_on: Option<Date>,
        from: &[BuildState],
        now: &Now<'_>,
    ) -> Result<String, Answer> {
        let mut faults = Faults::default();
        faults.day(now, occurred_on);
        let build = self.build_named(&mut faults, build, now);
        faults.check()?;
        let build = build.unwrap_or_default();
        match self.builds.get(&build).is_some_and(|row| from.contains(&row.state)) {
            true => Ok(build),
            false => Err(refused(Reason::BuildState)),
        }
    }

    fn create_build(
        &mut self,
        number: &str,
        fields: &BuildFields,
        stages: &[NewStage],
        lines: &[NewLine],
        now: &Now<'_>,
    ) -> Result<(), Answer> {
        let mut faults = Faults::default();
        fields_faults(&mut faults, fields);
        faults.some(stages.len());
        faults.when(stages.len() > 100, Reason::TooMany);
        let mut row = BuildRow {
            state: Quoted,
            held_from: None,
            version: 1,
            priority: fields.priority,
            planned_start: fields.planned_start,
            required_by: fields.required_by,
            opened_at: None,
            stages: Vec::new(),
            lines: Vec::new(),
        };
        for stage in stages {
            let name = stage.name.normal().to_owned();
            faults.when(row.stage(&name).is_some(), Reason::DuplicateLine);
            faults.when(stage.planned_days > 365, Reason::ValueInvalid);
            row.stages.push(StageRow { name, begun: None, done: None });
        }
        self.new_lines(&mut faults, &mut row, lines, now);
        faults.check()?;
        if self.builds.contains_key(number) {
            return Err(refused(Reason::BuildExists));
        }
        self.builds.insert(number.to_owned(), row);
        Ok(())
    }

    /// Adds lines to a build that is not yet kept, with every fault.
    fn new_lines(&self, faults: &mut Faults, row: &mut BuildRow, lines: &[NewLine], now: &Now<'_>) {
        for line in lines {
            let stage = row.stage(&line.stage).cloned();
            faults.when(stage.is_none(), Reason::StageUnknown);
            let done = stage.as_ref().is_some_and(|stage| stage.done.is_some());
            faults.when(done && row.state != Quoted, Reason::StageState);
            let part = self.part_named(faults, &line.part, now);
            faults.positive(line.quantity);
            let Some(part) = part else { continue };
            self.unit(faults, &part, line.unit);
            let fitted = line.fitted_before.milli();
            let wrong = fitted < 0 || (fitted > 0 && self.is_kit(&part));
            faults.when(wrong, Reason::QuantityInvalid);
            let stage = stage.map_or(String::new(), |stage| stage.name);
            push_line(row, stage, part, (line.quantity.milli(), fitted), 0);
        }
    }

    fn add_lines(&mut self, build: &Ref, lines: &[NewLine], now: &Now<'_>) -> Result<(), Answer> {
        let mut faults = Faults::default();
        faults.some(lines.len());
        let build = self.build_named(&mut faults, build, now);
        let Some((build, row)) = build.and_then(|b| Some((b.clone(), self.builds.get(&b)?))) else {
            return faults.check();
        };
        let mut row = row.clone();
        let first = row.lines.last().map_or(0, |line| line.number);
        self.new_lines(&mut faults, &mut row, lines, now);
        faults.check()?;
        changeable(&row)?;
        let added: Vec<_> = row.lines.iter().map(|l| l.number).filter(|n| *n > first).collect();
        if row.state != Quoted {
            for number in added {
                self.explode(&mut row, number)?;
            }
        }
        row.version += 1;
        self.builds.insert(build, row);
        Ok(())
    }

    fn change_line(
        &mut self,
        build: &Ref,
        number: i32,
        quantity: Option<Quantity>,
        stage: Option<&str>,
        now: &Now<'_>,
    ) -> Result<(), Answer> {
        let mut faults = Faults::default();
        let build = self.build_named(&mut faults, build, now);
        let row = build.as_ref().and_then(|build| self.builds.get_mut(build));
        let mut to = None;
        if let Some(row) = &row {
            faults.when(row.line(number).is_none(), Reason::LineUnknown);
            if let Some(name) = stage {
                to = row.stage(name).map(|stage| stage.name.clone());
                let done = row.stage(name).is_some_and(|stage| stage.done.is_some());
                faults.when(to.is_none(), Reason::StageUnknown);
                faults.when(done && row.state != Quoted, Reason::StageState);
            }
        }
        faults.when(quantity.is_some_and(|q| q.is_negative()), Reason::QuantityInvalid);
        let nothing = quantity.is_none() && stage.is_none() && faults.is_empty();
        faults.when(nothing, Reason::FieldMissing);
        faults.check()?;
        let Some(row) = row else { return Ok(()) };
        changeable(row)?;
        if row.line(number).is_some_and(|line| line.exploded) && quantity.is_some() {
            return Err(refused(Reason::KitNotStocked));
        }
        if let Some(line) = row.line_mut(number) {
            line.required = quantity.map_or(line.required, |quantity| quantity.milli());
            line.stage = to.unwrap_or_else(|| line.stage.clone());
        }
        row.version += 1;
        Ok(())
    }

    fn stage(
        &mut self,
        build: &Ref,
        name: &str,
        occurred_on: Option<Date>,
        begin: bool,
        now: &Now<'_>,
    ) -> Result<(), Answer> {
        let mut faults = Faults::default();
        let day = faults.day(now, occurred_on);
        let build = self.build_named(&mut faults, build, now);
        let row = build.and_then(|build| self.builds.get_mut(&build));
        let stage = row.as_ref().and_then(|row| row.stage(name).cloned());
        faults.when(row.is_some() && stage.is_none(), Reason::StageUnknown);
        faults.check()?;
        let (Some(row), Some(stage)) = (row, stage) else { return Ok(()) };
        if row.state != InBay {
            return Err(refused(Reason::BuildState));
        }
        let fits = match stage.begun {
            None => begin,
            Some(begun) => !begin && stage.done.is_none() && day >= begun,
        };
        if !fits {
            return Err(refused(Reason::StageState));
        }
        for known in row.stages.iter_mut().filter(|known| known.name == stage.name) {
            match begin {
                true => known.begun = Some(day),
                false => known.done = Some(day),
            }
        }
        row.version += 1;
        Ok(())
    }

    /// The kit's parts at the bottom of every list, summed, as lines of their own.
    fn explode(&self, row: &mut BuildRow, number: i32) -> Result<(), Answer> {
        let Some(line) = row.line(number).cloned() else { return Ok(()) };
        if line.exploded || !self.is_kit(&line.part) {
            return Ok(());
        }
        let mut sums: Vec<(String, i64)> = Vec::new();
        self.bottom(&line.part, line.required, 0, &mut sums)?;
        if let Some(line) = row.line_mut(number) {
            line.exploded = true;
        }
        for (part, required) in sums {
            push_line(row, line.stage.clone(), part, (required, 0), number);
        }
        Ok(())
    }

    fn bottom(
        &self,
        part: &str,
        milli: i64,
        depth: usize,
        sums: &mut Vec<(String, i64)>,
    ) -> Result<(), Answer> {
        if depth > 16 {
            return Err(refused(Reason::KitTooDeep));
        }
        let components = self.parts.get(part).map_or(&[][..], |row| &row.components);
        for (component, each) in components {
            let product = i128::from(milli) * i128::from(*each);
            let whole = i64::try_from(product / 1000).unwrap_or(i64::MAX);
            if product % 1000 != 0 || whole > 1_000_000_000_000_000 {
                return Err(refused(Reason::QuantityInvalid));
            }
            self.bottom(component, whole, depth + 1, sums)?;
        }
        if components.is_empty() {
            match sums.iter_mut().find(|(known, _)| known == part) {
                Some((_, sum)) => *sum += milli,
                None => sums.push((part.to_owned(), milli)),
            }
        }
        Ok(())
    }
}

fn push_line(
    row: &mut BuildRow,
    stage: String,
    part: String,
    (required, issued): (i64, i64),
    kit_line: i32,
) {
    let number = row.lines.last().map_or(1, |line| line.number + 1);
    row.lines.push(LineRow { number, stage, part, required, issued, kit_line, exploded: false });
}

fn fields_faults(faults: &mut Faults, fields: &BuildFields) {
    faults.text(&fields.vehicle, true);
    faults.text(&fields.customer, false);
    faults.when(fields.priority < 1 || fields.priority > 9999, Reason::ValueInvalid);
}

fn reason_needed(reason: &str) -> Result<(), Answer> {
    let mut faults = Faults::default();
    faults.text(reason, true);
    faults.check()
}

fn changeable(row: &BuildRow) -> Result<(), Answer> {
    match row.state {
        Quoted | Open | InBay | OnHold => Ok(()),
        _ => Err(refused(Reason::BuildState)),
    }
}
