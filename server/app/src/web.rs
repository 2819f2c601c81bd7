//! The built front end, from a folder. Hashed assets never change and may be kept; the page itself is asked for anew
//! each time; any address that is neither a file nor under `/api` is the page, so that deep links work.

use std::path::{Component, Path, PathBuf};

use actix_files::NamedFile;
use actix_web::http::header::{CACHE_CONTROL, HeaderValue};
use actix_web::{HttpRequest, HttpResponse};

/// Serves `path` of the folder, or the page.
pub async fn serve(request: &HttpRequest, folder: &Path) -> HttpResponse {
    let asked = safe(request.path());
    let file = asked
        .as_ref()
        .map(|path| folder.join(path))
        .filter(|path| path.is_file());
    let (path, keep) = match file {
        Some(path) => {
            let hashed = asked.is_some_and(|path| path.starts_with("assets"));
            (path, hashed)
        }
        None if request.path().starts_with("/assets/") => return HttpResponse::NotFound().finish(),
        None => (folder.join("index.html"), false),
    };
    match NamedFile::open(&path) {
        Ok(file) => {
            let mut answer = file.into_response(request);
            let rule = if keep { "public, max-age=31536000, immutable" } else { "no-cache" };
            answer.headers_mut().insert(CACHE_CONTROL, HeaderValue::from_static(rule));
            answer
        }
        Err(_) => HttpResponse::NotFound().content_type("text/plain; charset=utf-8").body(
            "The pages are not built. Run `npm ci && npm run build` in the folder `web`, or use deploy/run.",
        ),
    }
}

/// The path below the folder, or none when it leaves it.
fn safe(path: &str) -> Option<PathBuf> {
    let path = Path::new(path.trim_start_matches('/'));
    path.components()
        .all(|part| matches!(part, Component::Normal(_)))
        .then(|| path.to_owned())
}
