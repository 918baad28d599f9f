//! Styles, scripts and the icon, built into the binary.

use std::sync::LazyLock;

use axum::extract::{Path, RawQuery};
use axum::http::header;
use axum::response::{IntoResponse, Response};

use crate::conditional;
use crate::error::Error;

struct Asset {
    name: &'static str,
    kind: &'static str,
    content: &'static [u8],
    tag: String,
}

static ASSETS: LazyLock<Vec<Asset>> = LazyLock::new(|| {
    const CSS: &str = "text/css; charset=utf-8";
    const JS: &str = "text/javascript; charset=utf-8";
    let files: &[(&str, &str, &[u8])] = &[
        ("screen.css", CSS, include_bytes!("../../static/screen.css")),
        ("print.css", CSS, include_bytes!("../../static/print.css")),
        ("plan.js", JS, include_bytes!("../../static/plan.js")),
        ("sort.js", JS, include_bytes!("../../static/sort.js")),
        (
            "blank.svg",
            "image/svg+xml",
            include_bytes!("../../static/blank.svg"),
        ),
        (
            "mark.svg",
            "image/svg+xml",
            include_bytes!("../../static/mark.svg"),
        ),
    ];
    let asset = |&(name, kind, content)| Asset {
        name,
        kind,
        content,
        tag: conditional::tag(content),
    };
    files.iter().map(asset).collect()
});

/// Address of an asset, with its version: a reader keeps it until it changes. Used in templates
/// as `crate::assets::href("screen.css")`.
pub fn href(name: &str) -> String {
    let version = find(name).map_or("", |asset| asset.tag.trim_matches('"'));
    format!("/static/{name}?v={version}")
}

fn find(name: &str) -> Option<&'static Asset> {
    ASSETS.iter().find(|asset| asset.name == name)
}

/// `GET /static/{name}`
pub async fn get(
    Path(name): Path<String>,
    RawQuery(query): RawQuery,
    headers: axum::http::HeaderMap,
) -> Result<Response, Error> {
    let asset = find(&name)
        .ok_or_else(|| Error::NotFound(format!("There is no file “{name}” in this service.")))?;
    // Only the address with the right version may be kept for good.
    let version = query.as_deref().and_then(|query| query.strip_prefix("v="));
    let keep = match version == Some(asset.tag.trim_matches('"')) {
        true => "public, max-age=31536000, immutable",
        false => "no-cache",
    };
    let response = match conditional::seen(&headers, &asset.tag) {
        Some(unchanged) => unchanged,
        None => ([(header::CONTENT_TYPE, asset.kind)], asset.content).into_response(),
    };
    Ok((
        [(header::CACHE_CONTROL, keep)],
        conditional::tagged(response, &asset.tag),
    )
        .into_response())
}
