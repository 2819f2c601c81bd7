//! The per-episode clearance and asset report as a file, in four forms.

use actix_web::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE};
use actix_web::web::{Data, Path, Query};
use actix_web::{HttpRequest, HttpResponse, get};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::clearance::ClearanceQuery;
use super::types::Answer;
use crate::app::App;
use crate::error::Problem;
use crate::ops::access::Actor;
use crate::ops::form::Form;
use crate::ops::report::{Purpose, make};

async fn report(
    app: &App,
    actor: &Actor,
    path: Path<(Uuid, Uuid)>,
    query: Query<ClearanceQuery>,
    form: Form,
    request: &HttpRequest,
) -> Answer {
    // The page reads the data by script; a link or another program takes a file away.
    let by_script = request
        .headers()
        .get("sec-fetch-dest")
        .is_some_and(|value| value == "empty");
    let purpose = if form == Form::Json && by_script {
        Purpose::Read
    } else {
        Purpose::Download
    };
    let (series, episode) = path.into_inner();
    let asked = query.into_inner().into();
    let made = make(app, actor, series, episode, asked, form, purpose).await?;
    // The name has plain letters only.
    let disposition = format!("attachment; filename=\"{}\"", made.file_name);
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, form.media_type()))
        .insert_header((CONTENT_DISPOSITION, disposition))
        .insert_header((CACHE_CONTROL, "no-store"))
        .body(made.bytes))
}

/// One form of the report: its handler under its address.
macro_rules! report_form {
    ($name:ident, $path:literal, $form:ident, $content_type:literal, $what:literal) => {
        #[doc = concat!("The clearance and asset report of an episode as ", $what, ". Follows what was entered and the rules \
            shown; it is not legal advice.")]
        #[utoipa::path(tag = "Clearance",
            params(("series" = Uuid, Path), ("episode" = Uuid, Path), ClearanceQuery),
            responses((status = 200, content_type = $content_type, body = Vec<u8>), (status = "4XX", body = Problem)))]
        #[get($path)]
        async fn $name(
            app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>, query: Query<ClearanceQuery>,
            request: HttpRequest,
        ) -> Answer {
            report(&app, &actor, path, query, Form::$form, &request).await
        }
    };
}

report_form!(
    read_report_json,
    "/api/series/{series}/episodes/{episode}/report.json",
    Json,
    "application/json",
    "JSON"
);
report_form!(
    read_report_pdf,
    "/api/series/{series}/episodes/{episode}/report.pdf",
    Pdf,
    "application/pdf",
    "a typeset document"
);
report_form!(
    read_report_xlsx,
    "/api/series/{series}/episodes/{episode}/report.xlsx",
    Xlsx,
    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "a workbook"
);
report_form!(
    read_report_csv,
    "/api/series/{series}/episodes/{episode}/report.csv",
    Csv,
    "text/csv",
    "a table"
);

/// Puts the routes into the house.
pub fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(read_report_json)
        .service(read_report_pdf)
        .service(read_report_xlsx)
        .service(read_report_csv);
}
