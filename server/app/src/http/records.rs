//! The six routes that every record of a series has, written once. A record's line at the bottom names its path, its
//! types and who may see and change it.

/// Routes of one kind of record, in a module of its own.
#[macro_export]
macro_rules! record_routes {
    (
        mod $module:ident, $tag:literal, $Row:ident, $Fields:ident, view: $view:ident, edit: $edit:ident,
        $list_path:tt, $one_path:tt, $restore_path:tt,
        $PageName:ident, $list:ident, $create:ident, $read:ident, $replace:ident, $delete:ident, $restore:ident
        $(,)?
    ) => {
        pub mod $module {
            #![doc = concat!("Routes of ", $tag, ".")]
            use actix_web::web::{Data, Json, Path, Query};
            use actix_web::{HttpResponse, delete, get, post, put};
            use uuid::Uuid;
            use waybill_domain::perms::Action;

            use $crate::app::App;
            use $crate::error::Problem;
            use $crate::http::types::{Answer, IfMatch, ListQuery, record};
            use $crate::ops::access::Actor;
            use $crate::ops::records::{self, Rights};
            use super::{$Fields, $Row};

            const RIGHTS: Rights = Rights { view: Action::$view, edit: Action::$edit };

            /// A page of the list.
            #[derive(serde::Serialize, utoipa::ToSchema)]
            pub struct $PageName {
                pub items: Vec<$Row>,
                /// Ask with `after` for the next page; null on the last.
                #[schema(required)]
                pub next: Option<Uuid>,
            }

            #[utoipa::path(tag = $tag, params(("series" = Uuid, Path), ListQuery),
                responses((status = 200, body = $PageName), (status = "4XX", body = Problem)))]
            #[get($list_path)]
            async fn $list(app: Data<App>, actor: Actor, path: Path<Uuid>, query: Query<ListQuery>) -> Answer {
                let page =
                    records::list::<$Row>(&app, &actor, path.into_inner(), RIGHTS, query.into_inner().into()).await?;
                Ok(HttpResponse::Ok().json($PageName { items: page.items, next: page.next }))
            }

            #[utoipa::path(tag = $tag, params(("series" = Uuid, Path)),
                responses((status = 201, body = $Row), (status = "4XX", body = Problem)))]
            #[post($list_path)]
            async fn $create(app: Data<App>, actor: Actor, path: Path<Uuid>, body: Json<$Fields>) -> Answer {
                let made =
                    records::create::<$Row>(&app, &actor, path.into_inner(), RIGHTS, body.into_inner()).await?;
                Ok(record(HttpResponse::Created(), made.version, &made))
            }

            #[utoipa::path(tag = $tag, params(("series" = Uuid, Path), ("id" = Uuid, Path)),
                responses((status = 200, body = $Row), (status = "4XX", body = Problem)))]
            #[get($one_path)]
            async fn $read(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
                let (series, id) = path.into_inner();
                let found = records::read::<$Row>(&app, &actor, series, RIGHTS, id).await?;
                Ok(record(HttpResponse::Ok(), found.version, &found))
            }

            #[utoipa::path(tag = $tag,
                params(("series" = Uuid, Path), ("id" = Uuid, Path), ("If-Match" = String, Header)),
                responses((status = 200, body = $Row), (status = "4XX", body = Problem)))]
            #[put($one_path)]
            async fn $replace(
                app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>, version: IfMatch, body: Json<$Fields>,
            ) -> Answer {
                let (series, id) = path.into_inner();
                let made = records::replace::<$Row>(
                    &app, &actor, series, RIGHTS, id, version.0, body.into_inner(),
                )
                .await?;
                Ok(record(HttpResponse::Ok(), made.version, &made))
            }

            #[utoipa::path(tag = $tag,
                params(("series" = Uuid, Path), ("id" = Uuid, Path), ("If-Match" = String, Header)),
                responses((status = 200, body = $Row), (status = "4XX", body = Problem)))]
            #[delete($one_path)]
            async fn $delete(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>, version: IfMatch) -> Answer {
                let (series, id) = path.into_inner();
                let gone = records::remove::<$Row>(&app, &actor, series, RIGHTS, id, version.0).await?;
                Ok(record(HttpResponse::Ok(), gone.version, &gone))
            }

            #[utoipa::path(tag = $tag, params(("series" = Uuid, Path), ("id" = Uuid, Path)),
                responses((status = 200, body = $Row), (status = "4XX", body = Problem)))]
            #[post($restore_path)]
            async fn $restore(app: Data<App>, actor: Actor, path: Path<(Uuid, Uuid)>) -> Answer {
                let (series, id) = path.into_inner();
                let back = records::restore::<$Row>(&app, &actor, series, RIGHTS, id).await?;
                Ok(record(HttpResponse::Ok(), back.version, &back))
            }

            /// Puts the routes into the house.
            pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
                config
                    .service($list)
                    .service($create)
                    .service($restore)
                    .service($read)
                    .service($replace)
                    .service($delete);
            }
        }
    };
}

use crate::db::people::{Person, PersonFields};

record_routes! {
    mod people, "People", Person, PersonFields, view: ViewPeople, edit: EditPeople,
    "/api/series/{series}/people", "/api/series/{series}/people/{id}", "/api/series/{series}/people/{id}/restore",
    PersonPage, list_people, create_person, read_person, replace_person, delete_person, restore_person,
}

/// All records' routes.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    config.configure(people::routes);
}
