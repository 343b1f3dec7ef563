//! Answers that depend on nothing but the shop's state, the day and what was asked: the same question
//! gets the same answer until something is committed or the day is over.

use baystart_core::ids::ShopId;
use baystart_store::ShopState;
use jiff::civil::Date;
use prost::Message;
use std::any::Any;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

/// Bytes of all kept answers as they are on the wire; in memory they take more.
const BYTES_MAX: usize = 32 << 20;
/// Answers of one shop.
const ANSWERS_MAX: usize = 512;

/// What an answer depends on, beside the shop's state.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(crate) struct Question {
    /// The method's name.
    method: &'static str,
    as_of: Date,
    /// The request's bytes.
    asked: Vec<u8>,
}

impl Question {
    /// What is asked of a method at the start of a day.
    pub(crate) fn new(method: &'static str, as_of: Date, asked: &impl Message) -> Self {
        Self { method, as_of, asked: asked.encode_to_vec() }
    }
}

struct OfShop {
    /// At which they were made.
    at: ShopState,
    answers: HashMap<Question, Arc<dyn Any + Send + Sync>>,
    bytes: usize,
    used: u64,
}

#[derive(Default)]
struct State {
    shops: HashMap<ShopId, OfShop>,
    bytes: usize,
    uses: u64,
}

/// The kept answers of a server.
#[derive(Default)]
pub(crate) struct KeptAnswers(Mutex<State>);

impl KeptAnswers {
    /// The answer to a question at a state of the shop.
    pub(crate) fn get<R: Message + Clone + Send + Sync + 'static>(
        &self,
        shop: ShopId,
        at: ShopState,
        question: &Question,
    ) -> Option<R> {
        let found = {
            let mut state = self.0.lock().unwrap_or_else(PoisonError::into_inner);
            state.uses += 1;
            let now = state.uses;
            let shop = state.shops.get_mut(&shop).filter(|shop| shop.at == at)?;
            shop.used = now;
            Arc::clone(shop.answers.get(question)?)
        };
        found.downcast_ref::<R>().cloned()
    }

    /// Keeps an answer that was made at a state of the shop; those of other states go.
    pub(crate) fn keep<R: Message + Clone + Send + Sync + 'static>(
        &self,
        shop: ShopId,
        at: ShopState,
        question: Question,
        answer: &R,
    ) {
        let bytes = answer.encoded_len() + question.asked.len();
        let answer: Arc<dyn Any + Send + Sync> = Arc::new(answer.clone());
        let mut state = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        state.uses += 1;
        let now = state.uses;
        let fits = state
            .shops
            .get(&shop)
            .is_some_and(|its| its.at == at && its.answers.len() < ANSWERS_MAX);
        if !fits {
            state.forget(shop);
        }
        while state.bytes + bytes > BYTES_MAX {
            let oldest = state.shops.iter().min_by_key(|(_, its)| its.used).map(|(id, _)| *id);
            let Some(oldest) = oldest else { return };
            state.forget(oldest);
        }
        let none = || OfShop { at, answers: HashMap::new(), bytes: 0, used: now };
        let its = state.shops.entry(shop).or_insert_with(none);
        if its.answers.insert(question, answer).is_none() {
            its.bytes += bytes;
            state.bytes += bytes;
        }
    }
}

impl State {
    fn forget(&mut self, shop: ShopId) {
        if let Some(its) = self.shops.remove(&shop) {
            self.bytes -= its.bytes;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use baystart_proto::v1::GetOnHandRequest;
    use jiff::civil::date;
    use uuid::Uuid;

    fn shop(id: u128) -> ShopId {
        ShopId(Uuid::from_u128(id))
    }

    fn state(revision: i64) -> ShopState {
        ShopState { revision, ..ShopState::default() }
    }

    fn question(day: i8) -> Question {
        Question::new("Get", date(2026, 9, day), &GetOnHandRequest::default())
    }

    #[test]
    fn an_answer_is_good_for_its_shop_state_day_and_question() {
        let (kept, [first, second]) = (KeptAnswers::default(), [1, 2].map(state));
        let get = |shop, at, question: &Question| kept.get::<String>(shop, at, question);
        kept.keep(shop(1), first, question(1), &"yes".to_owned());
        assert_eq!(get(shop(1), first, &question(1)), Some("yes".to_owned()));
        assert_eq!(get(shop(2), first, &question(1)), None);
        assert_eq!(get(shop(1), second, &question(1)), None);
        assert_eq!(get(shop(1), first, &question(2)), None);
        let other = Question { method: "Other", ..question(1) };
        assert_eq!(get(shop(1), first, &other), None);
        let asked = Question { asked: vec![1], ..question(1) };
        assert_eq!(get(shop(1), first, &asked), None);
        // A newer state takes the place of the old one's answers.
        kept.keep(shop(1), second, question(2), &"no".to_owned());
        assert_eq!(get(shop(1), first, &question(1)), None);
        assert_eq!(get(shop(1), second, &question(2)), Some("no".to_owned()));
    }

    #[test]
    fn the_bytes_are_bounded() {
        let (kept, at) = (KeptAnswers::default(), state(1));
        let large = "x".repeat(BYTES_MAX / 3);
        for id in 1..=4 {
            kept.keep(shop(id), at, question(1), &large);
        }
        let there = |id| kept.get::<String>(shop(id), at, &question(1)).is_some();
        assert_eq!([1, 2, 3, 4].map(there), [false, false, true, true]);
        kept.keep(shop(9), at, question(1), &"x".repeat(BYTES_MAX));
        assert!(!there(9), "what is too large by itself is not kept");
    }
}
