//! When a missed photo comes back.
//!
//! The rule is that of a card box with four compartments (S. Leitner, "So lernt man lernen", 1972, from memory): a missed
//! photo comes back after 3 other answers, then after 9, then after 27, moving on each time that it is right; a miss puts it
//! back to 3; after the third time right it is done. A photo that is right at first sight never comes back. The steps of
//! 3, 9 and 27 are common practice, no source. Answers are counted, not days: nothing depends on a clock.

use std::collections::BTreeMap;

use super::answer::Marked;
use super::item::{ItemName, Level};

/// Answers on the same level between one showing and the next, by how often it was right since it was missed.
const GAPS: [usize; 3] = [3, 9, 27];

/// What is shown next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Next {
    /// The item.
    pub name: ItemName,
    /// Whether it comes back.
    pub back: bool,
}

/// What a learner is shown next on a level, after what they answered, oldest first. New photos come in the order of
/// their numbers, so that learners see the same ones and can be compared.
pub fn next_item(level: Level, history: &[Marked]) -> Next {
    let on_level: Vec<(u32, bool)> = history
        .iter()
        .filter_map(|marked| Some((marked.item.parse::<ItemName>().ok()?, marked.was_missed())))
        .filter(|(name, _)| name.level == level)
        .map(|(name, missed)| (name.number, missed))
        .collect();
    // Number → (times right since it was missed, when it is due).
    let mut boxed: BTreeMap<u32, (usize, usize)> = BTreeMap::new();
    for (index, (number, missed)) in on_level.iter().enumerate() {
        let known = boxed.remove(number);
        let step = match (known, missed) {
            (_, true) => Some(0),
            (Some((step, _)), false) => Some(step + 1),
            (None, false) => None,
        };
        if let Some((step, gap)) = step.and_then(|step| Some((step, GAPS.get(step)?))) {
            boxed.insert(*number, (step, index + 1 + gap));
        }
    }
    let due = boxed.iter().filter(|(_, (_, at))| *at <= on_level.len()).min_by_key(|(number, (_, at))| (*at, **number));
    match due {
        Some((number, _)) => Next { name: ItemName { level, number: *number }, back: true },
        None => {
            let last = on_level.iter().map(|(number, _)| *number).max().unwrap_or(0);
            Next { name: ItemName { level, number: last + 1 }, back: false }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Next, next_item};
    use crate::learn::answer::{Answer, Call, Marked, MarkedShaft, Truth};
    use crate::learn::item::Level;

    fn marked(number: u32, right: bool) -> Marked {
        let truth = Truth { look: Call::Normal, place: None, base: None };
        let look = if right { Call::Normal } else { Call::Infected };
        let answer = Answer { shaft: 1, look, place: None, base: None };
        Marked {
            item: format!("p1-{number}"),
            at: String::new(),
            back: false,
            shafts: vec![MarkedShaft { truth, answer }],
        }
    }

    /// Which numbers are shown when `misses` says which showings are missed.
    fn shown(n: usize, missed: impl Fn(u32, usize) -> bool) -> Vec<u32> {
        let mut history: Vec<Marked> = Vec::new();
        let mut numbers = Vec::new();
        for _ in 0..n {
            let Next { name, back } = next_item(Level::Plain, &history);
            let times = numbers.iter().filter(|one| **one == name.number).count();
            assert_eq!(back, times > 0, "what was seen comes back, what was not is new");
            numbers.push(name.number);
            history.push(marked(name.number, !missed(name.number, times)));
        }
        numbers
    }

    #[test]
    fn without_a_miss_all_are_new() {
        assert_eq!(shown(6, |_, _| false), [1, 2, 3, 4, 5, 6]);
    }

    #[test]
    fn a_missed_one_comes_back_after_3_then_9_then_27_and_is_done() {
        let numbers = shown(60, |number, times| number == 2 && times == 0);
        let places: Vec<usize> = numbers.iter().enumerate().filter(|(_, n)| **n == 2).map(|(i, _)| i).collect();
        assert_eq!(places, [1, 1 + 4, 1 + 4 + 10, 1 + 4 + 10 + 28]);
    }

    #[test]
    fn missed_again_it_begins_anew() {
        let numbers = shown(20, |number, times| number == 1 && times < 2);
        let places: Vec<usize> = numbers.iter().enumerate().filter(|(_, n)| **n == 1).map(|(i, _)| i).collect();
        assert_eq!(&places[..4], [0, 4, 8, 18]);
    }

    #[test]
    fn levels_do_not_mix() {
        let history = [marked(1, false), marked(2, true), marked(3, true), marked(4, true)];
        assert_eq!(next_item(Level::Hard, &history).name.to_string(), "p3-1");
        assert!(next_item(Level::Plain, &history).back);
    }
}
