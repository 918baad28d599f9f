//! Every address of the service.

use std::time::Duration;

use axum::extract::DefaultBodyLimit;
use axum::http::StatusCode;
use axum::middleware::{from_fn, from_fn_with_state};
use axum::routing::{MethodRouter, get, post};
use axum::{Extension, Router};
use harness_core::requests::{
    AmpacityRequest, BoatsRequest, BundleRequest, CheckRequest, ConductorRequest, ContentsRequest,
    DropRequest, NetworkRequest, Request,
};
use tower::ServiceBuilder;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::csrf::CsrfLayer;
use tower_http::limit::RequestBodyLimitLayer;
use tower_http::timeout::TimeoutLayer;
use tower_http::trace::TraceLayer;

use crate::error::{self, Error};
use crate::kept::{self, Kept};
use crate::lists::Lists;
use crate::routes::{
    add_option, boats, circuits, clears, edit, edit_plan, failing, harness_contents, health,
    history, models, most, one_circuit, options, overview, parts_list, parts_spreadsheet, rules,
    search, settings, sheets, sizes, spreadsheet, verification, zones,
};
use crate::saving::Queues;
use crate::store::Store;
use crate::studies::Studies;
use crate::unfinished::{self, Unfinished};
use crate::{api, assets, conditional, guard, shown};

/// Largest body of a request, in bytes.
///
/// A network of 200 000 elements, the most that is solved, takes about 25 MB of JSON.
pub const BODY_LIMIT: usize = 32 * 1024 * 1024;
/// Longest time for an answer. What is asked for by GET is answered sooner, if only by saying that
/// it is still being worked out: [`unfinished`].
pub const TIME_LIMIT: Duration = Duration::from_secs(30);

/// What the routes work with.
#[derive(Clone, Debug)]
pub struct AppState {
    /// The boat models.
    pub store: Store,
    /// What was computed of them lately.
    pub studies: Studies,
    /// States of boat models read lately.
    pub lists: Lists,
    /// Pages as they were sent.
    pub kept: Kept,
    /// Answers that take long.
    pub unfinished: Unfinished,
    /// Changes waiting for each other.
    pub queues: Queues,
}

impl AppState {
    /// A service on the boat models of `store`.
    pub fn new(store: Store) -> Self {
        Self {
            store,
            studies: Studies::default(),
            lists: Lists::default(),
            kept: Kept::default(),
            unfinished: Unfinished::default(),
            queues: Queues::default(),
        }
    }
}

/// The addresses, in the order of the pages.
#[rustfmt::skip]
pub fn routes() -> Vec<(&'static str, MethodRouter<AppState>)> {
    vec![
        // Pages
        ("/",                                  get(models::list)),
        ("/models",                            get(models::list)),
        ("/models/import",                     get(models::import_form).post(models::import)),
        ("/models/{id}/file.json",             get(models::file)),
        ("/models/{id}/replace",               get(models::replace_form).post(models::replace)),
        ("/models/{id}/spreadsheet",           get(spreadsheet::form).post(spreadsheet::dry_run)),
        ("/models/{id}/spreadsheet/accept",    post(spreadsheet::accept)),
        ("/models/{id}/spreadsheet/marked",    post(spreadsheet::marked)),
        ("/models/{id}/spreadsheet/{file}",    get(spreadsheet::file)),
        ("/models/{id}/delete",                get(models::delete_form).post(models::delete)),
        ("/models/{id}",                       get(overview::overview)),
        ("/models/{id}/gaps",                  get(overview::gaps)),
        ("/models/{id}/failing",               get(failing::failing)),
        ("/models/{id}/clears",                get(clears::clears)),
        ("/models/{id}/sizes",                 get(sizes::sizes)),
        ("/models/{id}/circuits",              get(circuits::list)),
        ("/models/{id}/circuits/{number}",     get(circuits::circuit)),
        ("/models/{id}/circuits/{number}/sizes", get(circuits::sizes)),
        ("/models/{id}/zones",                 get(zones::list)),
        ("/models/{id}/zones/{zone}",          get(zones::zone)),
        ("/models/{id}/runs/{run}",            get(zones::run)),
        ("/models/{id}/options",               get(options::list)),
        ("/models/{id}/options/add",           get(add_option::ask).post(add_option::accept)),
        ("/models/{id}/options/{option}",      get(options::option)),
        ("/models/{id}/boats",                 get(boats::boats)),
        ("/models/{id}/most",                  get(most::most)),
        ("/models/{id}/sheets",                get(sheets::list)),
        ("/models/{id}/sheets/{sheet}",        get(sheets::sheet)),
        ("/models/{id}/rules",                 get(rules::of_model)),
        ("/models/{id}/rules/{code}",          get(rules::rule_of_model)),
        ("/models/{id}/search",                get(search::in_model)),
        ("/models/{id}/edit",                  get(edit::lists)),
        ("/models/{id}/edit/plan",             get(edit_plan::plan).post(edit_plan::save)),
        ("/models/{id}/edit/{list}",           get(edit::list)),
        ("/models/{id}/edit/{list}/thing",     get(edit::thing).post(edit::save)),
        ("/models/{id}/edit/{list}/remove",    get(edit::remove_form).post(edit::remove)),
        ("/models/{id}/parts",                 get(parts_list::beside)),
        ("/models/{id}/revisions",             get(history::revisions)),
        ("/models/{id}/revisions/{number}",    get(history::revision)),
        ("/models/{id}/revisions/{number}/file.json", get(models::revision_file)),
        ("/models/{id}/revisions/{number}/bring-back", post(history::bring_back)),
        ("/models/{id}/revisions/{number}/take-back", post(history::take_back)),
        ("/parts",                             get(parts_list::all)),
        ("/parts/revisions",                   get(parts_list::revisions)),
        ("/parts/revisions/{number}",          get(parts_list::revision)),
        ("/parts/revisions/{number}/bring-back", post(parts_list::bring_back)),
        ("/parts/spreadsheet",                 get(parts_spreadsheet::form)
                                                   .post(parts_spreadsheet::dry_run)),
        ("/parts/spreadsheet/accept",          post(parts_spreadsheet::accept)),
        ("/parts/spreadsheet/{file}",          get(parts_spreadsheet::file)),
        ("/parts/{list}",                      get(parts_list::list)),
        ("/parts/{list}/thing",                get(parts_list::thing).post(parts_list::save)),
        ("/parts/{list}/remove",               get(parts_list::remove_form)
                                                   .post(parts_list::remove)),
        ("/search",                            get(search::search)),
        ("/settings",                          get(settings::settings).post(settings::keep)),
        ("/one-circuit",                       get(one_circuit::one_circuit)),
        ("/harness-contents",                  get(harness_contents::harness_contents)
                                                   .post(harness_contents::ask)),
        ("/rules",                             get(rules::all)),
        ("/rules/{code}",                      get(rules::rule)),
        ("/verification",                      get(verification::verification)),
        // API
        ("/api/models",                        get(api::models::list).post(api::models::create)),
        ("/api/models/{id}",                   get(api::models::read).put(api::models::replace)
                                                   .delete(api::models::delete)),
        ("/api/models/{id}/revisions",         get(api::models::revisions)),
        ("/api/models/{id}/revisions/{number}", get(api::models::revision)),
        ("/api/models/{id}/sheets/{sheet}",    get(sheets::api)),
        ("/api/calculations/conductor",        ask::<ConductorRequest>()),
        ("/api/calculations/drop",             ask::<DropRequest>()),
        ("/api/calculations/ampacity",         ask::<AmpacityRequest>()),
        ("/api/calculations/network",          ask::<NetworkRequest>()),
        ("/api/calculations/bundle",           ask::<BundleRequest>()),
        ("/api/calculations/boats",            ask::<BoatsRequest>()),
        ("/api/calculations/contents",         ask::<ContentsRequest>()),
        ("/api/parts",                         get(api::parts::read).put(api::parts::replace)),
        ("/api/parts/shipped",                 get(api::parts::read_shipped)),
        ("/api/parts-schema.json",             get(api::parts::schema)),
        ("/api/check",                         ask::<CheckRequest>()),
        ("/api/openapi.json",                  get(api::openapi::openapi)),
        ("/api/model-schema.json",             get(api::openapi::model_schema)),
        // Of the service itself
        ("/health",                            get(health::health)),
        ("/static/{name}",                     get(assets::get)),
    ]
}

/// A question of the core, asked by POST.
fn ask<Q>() -> MethodRouter<AppState>
where
    Q: Request + 'static,
    Q::Answer: Send,
{
    post(api::calculations::calculate::<Q>)
}

/// The whole service, on the boat models of `state`.
pub fn app(state: AppState) -> Router {
    let router = routes()
        .into_iter()
        .fold(Router::new(), |router, (address, methods)| {
            router.route(address, methods)
        })
        .fallback(async || Error::NotFound("Nothing has this address.".to_owned()))
        .layer(from_fn(conditional::layer))
        .layer(from_fn_with_state(state.clone(), kept::layer))
        .layer(from_fn_with_state(state.clone(), unfinished::layer));
    let texts = shown::Texts::new(state.store.clone());
    guarded(router).with_state(state).layer(Extension(texts))
}

/// Adds the layers that every request passes, named from the outside in.
fn guarded<S: Clone + Send + Sync + 'static>(router: Router<S>) -> Router<S> {
    router.layer(
        ServiceBuilder::new()
            .layer(TraceLayer::new_for_http())
            .layer(from_fn(guard::headers))
            .layer(from_fn(shown::layer))
            .layer(from_fn(error::dress))
            .layer(CsrfLayer::new().with_rejection_response(guard::cross_site))
            .layer(from_fn(guard::this_machine))
            .layer(CatchPanicLayer::custom(Error::of_panic))
            .layer(TimeoutLayer::with_status_code(
                StatusCode::SERVICE_UNAVAILABLE,
                TIME_LIMIT,
            ))
            .layer(DefaultBodyLimit::disable())
            .layer(RequestBodyLimitLayer::new(BODY_LIMIT)),
    )
}

#[cfg(test)]
mod tests {
    use axum::body::{Body, to_bytes};
    use axum::http::Request;
    use tower::ServiceExt;

    use super::*;

    #[tokio::test]
    async fn a_panic_is_a_page_that_tells_nothing_of_the_inside() {
        let broken = get(async || -> &'static str { panic!("secret of the inside") });
        for (address, kind) in [("/x", "text/html"), ("/api/x", "application/problem+json")] {
            let router = guarded(Router::new().route(address, broken.clone()));
            let request = Request::get(address).body(Body::empty()).unwrap();
            let response = router.oneshot(request).await.unwrap();
            assert_eq!(response.status(), StatusCode::INTERNAL_SERVER_ERROR);
            assert!(
                response.headers()["content-type"]
                    .to_str()
                    .unwrap()
                    .starts_with(kind)
            );
            assert!(response.headers().contains_key("content-security-policy"));
            let body = to_bytes(response.into_body(), usize::MAX).await.unwrap();
            let text = String::from_utf8(body.to_vec()).unwrap();
            assert!(
                text.contains("broke inside") && !text.contains("secret"),
                "{text}"
            );
        }
    }
}
