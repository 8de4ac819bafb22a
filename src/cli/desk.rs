//! `pilumen desk`: the local page in the browser.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::process::ExitCode;

use super::model::judging;
use super::terminal::{Output, complain};
use super::typed::number;
use super::{PARTLY, UNUSABLE};
use crate::settings::{self, Settings};
use crate::store::record_folder;
use crate::web::{Asked, serve};

/// Where the desk opens unless told otherwise, so that its address can be kept as a bookmark.
const PORT: u16 = 4807;

/// Bytes in a megabyte of --max-megabytes.
const MEGABYTE: usize = 1_000_000;

/// What `pilumen desk` is told.
#[derive(clap::Args)]
pub(super) struct Arguments {
    /// Folder of the record [default: what PILUMEN_RECORD names, else a folder of your own]
    #[arg(long, value_name = "DIR")]
    record: Option<PathBuf>,

    /// Port of the page; 0 takes any free one
    #[arg(long, value_name = "N", default_value_t = PORT)]
    port: u16,

    /// Address to open the page at; anything but this machine's own lets others on the network in who have the link
    #[arg(long, value_name = "IP", default_value_t = IpAddr::V4(Ipv4Addr::LOCALHOST))]
    address: IpAddr,

    /// A name by which other machines know this one; may be given several times
    #[arg(long, value_name = "NAME")]
    name: Vec<String>,

    /// Who tells what is entered, unless the page says otherwise [default: what PILUMEN_BY names]
    #[arg(long, value_name = "NAME")]
    by: Option<String>,

    /// Do not open the browser, only print the link
    #[arg(long)]
    no_browser: bool,

    /// The file of setups that photos may be taken with, instead of the one in your folder for data
    #[arg(long, value_name = "FILE", env = "PILUMEN_SETUPS", hide_env_values = true)]
    setups: Option<PathBuf>,

    /// The largest photo to decode, in millions of pixels [default: 100]
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = number)]
    max_megapixels: Option<f64>,

    /// The largest file to take, in millions of bytes
    #[arg(long, value_name = "N", default_value_t = 300, value_parser = clap::value_parser!(u32).range(1..=4000))]
    max_megabytes: u32,
}

/// Opens the desk and stays until it is ended.
pub(super) fn run(arguments: &Arguments) -> ExitCode {
    let record = match record_folder(arguments.record.as_deref()) {
        Ok(record) => record,
        Err(error) => return fail(&error.to_string(), UNUSABLE),
    };
    let asked = settings::Asked { um_per_px: None, setup: None, max_megapixels: arguments.max_megapixels };
    if let Err(error) = Settings::check(asked) {
        return fail(&error.to_string(), UNUSABLE);
    }
    let judging = match judging(None, Some(&record)) {
        Ok(judging) => judging,
        Err(sentence) => return fail(&sentence, UNUSABLE),
    };
    let named = || std::env::var("PILUMEN_BY").unwrap_or_default();
    let asked = Asked {
        record: record.clone(),
        setups: arguments.setups.clone().filter(|path| !path.as_os_str().is_empty()),
        by: arguments.by.clone().unwrap_or_else(named),
        max_megapixels: arguments.max_megapixels,
        own_model: judging.own.map(|own| own.about.comparison),
        max_bytes: arguments.max_megabytes as usize * MEGABYTE,
        n_readers: std::thread::available_parallelism().map_or(1, usize::from),
    };
    let address = SocketAddr::new(arguments.address, arguments.port);
    let served = serve(asked, judging.model, address, arguments.name.clone(), |at, desk| {
        let host = if at.ip().is_loopback() || at.ip().is_unspecified() {
            "localhost".to_owned()
        } else {
            at.ip().to_string()
        };
        let link = format!("http://{host}:{}/enter?key={}", at.port(), desk.key());
        // A reader who has seen the link and goes away must not end the desk.
        let opened = format!(
            "The desk is open: {link}\nRecord: {}\nWhoever has this link may do everything. End with Ctrl-C.\n",
            record.display()
        );
        Output::new().write(opened.as_bytes());
        if !at.ip().is_loopback() {
            complain(
                "pilumen: the desk can be reached from the network, and what is sent is not encrypted; use it on a network you trust",
            );
        }
        if !arguments.no_browser && open::that_detached(&link).is_err() {
            complain("pilumen: no browser could be opened; open the link yourself");
        }
    });
    match served {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => fail(&error.to_string(), PARTLY),
    }
}

fn fail(sentence: &str, code: u8) -> ExitCode {
    complain(&format!("pilumen: {sentence}"));
    ExitCode::from(code)
}
