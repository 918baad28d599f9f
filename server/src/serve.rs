//! Starting and stopping the service.

use std::io::{self, Write};
use std::net::SocketAddr;

use tokio::net::TcpListener;
use tokio::signal;
use tracing_subscriber::prelude::*;

use crate::config::Config;
use crate::router::{self, AppState};
use crate::samples;
use crate::store::{Store, StoreError};

/// Why the service could not start or had to stop.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// The store cannot be opened or the samples cannot be recorded.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A sample that comes with the service is not a boat model.
    #[error(transparent)]
    Sample(#[from] samples::SampleError),
    /// The address is in use or not of this machine.
    #[error("cannot listen on {address}: {source}. Choose another address or port with --listen")]
    Listen {
        /// The address asked for.
        address: SocketAddr,
        /// What the system answered.
        source: io::Error,
    },
    /// The system refused what the service needs to run.
    #[error("the service cannot run: {0}")]
    Run(#[from] io::Error),
}

/// Serves until told to stop (Ctrl-C or SIGTERM), then finishes the requests under way.
///
/// # Errors
/// [`ServeError`]: the store, a sample, the address, or the system.
pub fn run(config: &Config) -> Result<(), ServeError> {
    let lines = tracing_subscriber::fmt::layer().with_writer(io::stderr);
    tracing_subscriber::registry()
        .with(lines)
        .with(config.log.clone())
        .init();
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()?;
    let ended = runtime.block_on(serve(config));
    // What is still being worked out for nobody does not hold up the end.
    runtime.shutdown_background();
    ended
}

async fn serve(config: &Config) -> Result<(), ServeError> {
    let refused = |source| ServeError::Listen {
        address: config.listen,
        source,
    };
    let listener = TcpListener::bind(config.listen).await.map_err(refused)?;
    let address = listener.local_addr().map_err(refused)?;
    let store = Store::open(&config.data).await?;
    let is_new = samples::load_when_new(&store).await?;

    // Whoever started the service may have gone: it serves on.
    let _ = writeln!(io::stdout(), "Listening on http://{address}/");
    if is_new {
        let told = tokio::task::spawn_blocking(samples::summary)
            .await
            .unwrap_or_default();
        for line in told {
            let _ = writeln!(io::stdout(), "{line}");
        }
    }
    let app = router::app(AppState::new(store.clone()));
    axum::serve(listener, app)
        .with_graceful_shutdown(told_to_stop())
        .await?;
    store.close().await;
    Ok(())
}

async fn told_to_stop() {
    let interrupt = async {
        if signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    };
    #[cfg(unix)]
    let terminate = async {
        match signal::unix::signal(signal::unix::SignalKind::terminate()) {
            Ok(mut asked) => asked.recv().await,
            Err(_) => std::future::pending().await,
        }
    };
    #[cfg(not(unix))]
    let terminate = std::future::pending::<Option<()>>();
    tokio::select! { () = interrupt => {}, _ = terminate => {} }
}
