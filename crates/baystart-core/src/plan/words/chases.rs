//! Why a supplier is worth a call.

use super::Words;
use crate::calendar::days_between;
use crate::plan::ask::chase::{Chase, ChasedBuild, Trouble};
use jiff::civil::Date;

impl Words<'_> {
    /// One sentence: `It decides B-1042 with 41 %: 9.2 working days gained if it came today; no answer
    /// since it was ordered, 8 days ago.`
    #[must_use]
    pub fn chase_reason(&self, chase: &Chase) -> String {
        let first = chase.builds.first().filter(|_| chase.worth > 0.0);
        let mut reason: Vec<String> = first.map(|build| self.decides(build)).into_iter().collect();
        reason.extend(chase.troubles.iter().map(|trouble| self.trouble(trouble)));
        if let Some(first) = reason.first_mut() {
            let mut letters = first.chars();
            let head: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
            *first = format!("{head}{}", letters.as_str());
        }
        format!("{}.", reason.join("; "))
    }

    fn decides(&self, chased: &ChasedBuild) -> String {
        let build = self.book.build_number(chased.build);
        if chased.undated {
            return format!("{build} has no date without it");
        }
        let days = chased.days_gained;
        let danger = match chased.endangered {
            true => ", whose promised delivery is in danger",
            false => "",
        };
        let percent = (chased.gating * 100.0).round().clamp(1.0, 99.0);
        format!(
            "it decides {build} with {percent:.0} %{danger}: {days:.1} working days gained if it came today"
        )
    }

    fn trouble(&self, trouble: &Trouble) -> String {
        match trouble {
            Trouble::PromisePassed(promised) => {
                format!("it was promised for {promised}, {}", self.ago(*promised))
            }
            Trouble::NoAnswer(placed) => {
                format!("no answer since it was ordered, {}", self.ago(*placed))
            }
            Trouble::NotHere(left) => {
                format!("it was despatched {} and is not here", self.ago(*left))
            }
            Trouble::LiesFree(quantity) => {
                format!("{quantity} of it lie free here: give its build that instead")
            }
            Trouble::Silence(heard) => format!("nothing was heard of it since {heard}"),
        }
    }

    fn ago(&self, day: Date) -> String {
        match days_between(day, self.as_of) {
            1 => "yesterday".to_owned(),
            days => format!("{days} days ago"),
        }
    }
}
