//! What clears a limit that fails.

use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State};
use axum::response::Response;

use crate::error::Error;
use crate::pages::{AskedLimit, ClearsPage};
use crate::router::AppState;
use crate::view::View;
use crate::{answer, parts_list};

/// `GET /models/{id}/clears?rule=&at=&set=`
pub async fn clears(
    State(state): State<AppState>,
    view: View,
    query: Result<Query<AskedLimit>, QueryRejection>,
) -> Result<Response, Error> {
    let Query(asked) = query?;
    let list = parts_list::own(&state.store).await?;
    answer::worked_out(move || ClearsPage::new(&view, &asked, &list)).await
}
