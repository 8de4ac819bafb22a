//! The card of the program's own model: that it is of this model, and that its figures come out again.

use pilumen::finding::model::check_card;
use pilumen::finding::model_from_bytes;
use pilumen::training::check;

use crate::docs::text;

const MODEL: &[u8] = include_bytes!("../models/shaft-v1.json");

#[test]
fn the_card_is_of_the_model_that_comes_with_the_program() {
    assert_eq!(check_card(MODEL, &text("models/README.md")), Ok(()));
}

#[test]
fn the_figures_of_the_cards_small_sample_come_out_again() {
    let table = check::table(&check::checked(&model_from_bytes(MODEL).unwrap()).unwrap());
    let (card, wanted) = (text("models/README.md"), table.trim_end());
    assert!(
        card.contains(wanted),
        "the card says something else; after a look at why, write it anew with `pilumen appraise --preset appraisal \
         --scenes 50 --card models/README.md`:\n{wanted}"
    );
}
