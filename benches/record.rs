//! How long do questions to a large record take?
//!
//! 5,000 photos by default; `PILUMEN_BENCH=full` asks a record of 100,000.

mod shared;
#[path = "../tests/record/world.rs"]
#[allow(dead_code, reason = "the tests' world, of which a bench needs a part")]
mod world;

use pilumen::store::{Page, Store};
use shared::{Table, full, median, ms, timed, turns};

fn main() {
    let (n_animals, photos_each) = if full() { (5_000, 20) } else { (250, 20) };
    let place = tempfile::tempdir().expect("a folder for a while");
    let folder = place.path().join("record");
    world::fill(&folder, n_animals, photos_each);
    let store = Store::open(&folder).expect("a record");
    let one = store.find_animal("invented 17").expect("an animal");
    let today = world::the("2026-06-01");
    let mut table = Table::new("record", &["question", "ms"]);
    println!("({n_animals} animals, {} photos)", n_animals * photos_each);
    let mut ask = |what: &str, question: &dyn Fn()| {
        let times = (0..turns(9)).map(|_| ms(timed(question).1)).collect();
        table.row(&[what.to_owned(), format!("{:.2}", median(times))]);
    };
    ask("open", &|| drop(Store::open(&folder).expect("a record")));
    ask("list of animals, all", &|| drop(store.animals(Page::default()).expect("a list")));
    ask("search, nothing found", &|| drop(store.search("zzz", 50).expect("an answer")));
    ask("search, many found", &|| drop(store.search("invented jpg", 50).expect("an answer")));
    ask("search, one animal by number", &|| drop(store.search("QH-00017", 50).expect("an answer")));
    ask("find an animal by name", &|| drop(store.find_animal("invented 17").expect("an animal")));
    ask("one case, whole", &|| drop(store.case(&one).expect("a case")));
    ask("what is due", &|| drop(store.due(today, 7).expect("an answer")));
    ask("counts", &|| drop(store.counts().expect("an answer")));
    table.finish();
}
