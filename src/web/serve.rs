//! The whole desk as one function, and putting it on a port.

use std::net::SocketAddr;

use axum::Router;
use axum::extract::{DefaultBodyLimit, State};
use axum::middleware;
use axum::routing::get;
use tokio::net::TcpListener;
use tower_http::limit::RequestBodyLimitLayer;

use super::answer::Refusal;
use super::desk::{Asked, Desk};
use super::guard::{Names, guard};
use super::{api, pages};
use crate::finding::Model;
use crate::store::StoreError;

/// Most bytes of what a page tells in words and numbers. Corrections with every point of sixty shafts have a tenth of
/// it; a photo has a limit of its own.
const MOST_TOLD_BYTES: usize = 2 << 20;

/// Why the desk cannot be opened.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// The record cannot be opened.
    #[error("{0}")]
    Record(#[from] StoreError),
    /// The port or address cannot be had.
    #[error("the desk cannot be opened at {at}: {said}; give another --port, or end the desk that is open there")]
    Port {
        /// The address.
        at: SocketAddr,
        /// What the system said.
        said: String,
    },
    /// The system ended it.
    #[error("the desk was ended by the system: {0}; start it again, nothing is lost")]
    Ended(String),
}

/// The desk as a function of requests.
pub fn app(desk: &Desk) -> Router {
    let mut router = Router::new();
    for &(path, script, _) in pages::PAGES {
        let page = move |State(desk): State<Desk>| async move { pages::shell(&desk, script) };
        router = router.route(path, get(page));
    }
    router
        .route(pages::door(), get(pages::enter))
        .route("/files/{*path}", get(pages::file))
        .route("/atlas", get(api::atlas_start))
        .route("/atlas/{name}", get(api::atlas))
        .nest("/api", api::all())
        .fallback(async || Refusal::unknown("there is no such page in the desk; go to its start"))
        .layer(DefaultBodyLimit::max(MOST_TOLD_BYTES))
        .layer(RequestBodyLimitLayer::new(desk.asked().max_bytes))
        .layer(middleware::from_fn_with_state(desk.clone(), guard))
        .with_state(desk.clone())
}

/// Opens the desk at an address (port 0: any free one), says where, and serves until it is told to end (Ctrl-C).
///
/// # Errors
/// When the record or the port cannot be had.
pub fn serve(
    asked: Asked,
    model: Model,
    address: SocketAddr,
    names: Vec<String>,
    opened: impl FnOnce(SocketAddr, &Desk),
) -> Result<(), ServeError> {
    let port = |error: std::io::Error| ServeError::Port { at: address, said: error.to_string() };
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().map_err(port)?;
    runtime.block_on(async {
        let listener = TcpListener::bind(address).await.map_err(port)?;
        let at = listener.local_addr().map_err(port)?;
        let desk = Desk::open(asked, model, Names::new(at, names))?;
        opened(at, &desk);
        let end = async {
            let _ = tokio::signal::ctrl_c().await;
        };
        let ended = tokio::select! {
            served = axum::serve(listener, app(&desk)) => served,
            () = end => Ok(()),
        };
        desk.close();
        ended.map_err(|error| ServeError::Ended(error.to_string()))
    })
}
