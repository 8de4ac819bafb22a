//! The one test binary: what it holds, in the order of reading.

mod card;
mod cli;
mod docs;
mod exports;
mod folder;
mod formats;
mod hard;
mod image;
mod judgement;
mod learn;
mod own_cases;
mod reasons;
mod record;
mod reference_boosted;
mod reference_maths;
mod report;
mod ruling;
mod sample;
mod scale;
mod schema;
mod setups;
mod strangers;
mod tidy;
mod web;
mod web_words;
mod width_uncertainty;
