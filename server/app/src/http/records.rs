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

use crate::db::assets::{Asset, AssetFields};
use crate::db::cards::{Card, CardFields};
use crate::db::costs::{Budget, BudgetFields, Cost, CostFields};
use crate::db::deliverables::{Deliverable, DeliverableFields};
use crate::db::drives::{Drive, DriveFields};
use crate::db::episodes::{Episode, EpisodeFields};
use crate::db::licences::{Licence, LicenceFields};
use crate::db::music::{Music, MusicFields};
use crate::db::people::{Person, PersonFields};
use crate::db::places::{Place, PlaceFields};
use crate::db::releases::{Release, ReleaseFields};
use crate::db::scenes::{Scene, SceneFields};
use crate::db::shoot_days::{ShootDay, ShootDayFields};
use crate::db::showings::{Showing, ShowingFields};
use crate::db::specifications::{Specification, SpecificationFields};
use crate::db::territory_groups::{TerritoryGroup, TerritoryGroupFields};

record_routes! {
    mod episodes, "Episodes", Episode, EpisodeFields, view: ViewSeries, edit: EditSchedule,
    "/api/series/{series}/episodes", "/api/series/{series}/episodes/{id}",
    "/api/series/{series}/episodes/{id}/restore",
    EpisodePage, list_episodes, create_episode, read_episode, replace_episode, delete_episode, restore_episode,
}

record_routes! {
    mod scenes, "Scenes", Scene, SceneFields, view: ViewSeries, edit: EditSchedule,
    "/api/series/{series}/scenes", "/api/series/{series}/scenes/{id}",
    "/api/series/{series}/scenes/{id}/restore",
    ScenePage, list_scenes, create_scene, read_scene, replace_scene, delete_scene, restore_scene,
}

record_routes! {
    mod shoot_days, "Shoot days", ShootDay, ShootDayFields, view: ViewSeries, edit: EditSchedule,
    "/api/series/{series}/shoot-days", "/api/series/{series}/shoot-days/{id}",
    "/api/series/{series}/shoot-days/{id}/restore",
    ShootDayPage, list_shoot_days, create_shoot_day, read_shoot_day, replace_shoot_day, delete_shoot_day, restore_shoot_day,
}

record_routes! {
    mod places, "Places", Place, PlaceFields, view: ViewPeople, edit: EditPeople,
    "/api/series/{series}/places", "/api/series/{series}/places/{id}",
    "/api/series/{series}/places/{id}/restore",
    PlacePage, list_places, create_place, read_place, replace_place, delete_place, restore_place,
}

record_routes! {
    mod people, "People", Person, PersonFields, view: ViewPeople, edit: EditPeople,
    "/api/series/{series}/people", "/api/series/{series}/people/{id}",
    "/api/series/{series}/people/{id}/restore",
    PersonPage, list_people, create_person, read_person, replace_person, delete_person, restore_person,
}

record_routes! {
    mod releases, "Releases", Release, ReleaseFields, view: ViewReleases, edit: EditReleases,
    "/api/series/{series}/releases", "/api/series/{series}/releases/{id}",
    "/api/series/{series}/releases/{id}/restore",
    ReleasePage, list_releases, create_release, read_release, replace_release, delete_release, restore_release,
}

record_routes! {
    mod drives, "Drives", Drive, DriveFields, view: ViewFootage, edit: EditFootage,
    "/api/series/{series}/drives", "/api/series/{series}/drives/{id}",
    "/api/series/{series}/drives/{id}/restore",
    DrivePage, list_drives, create_drive, read_drive, replace_drive, delete_drive, restore_drive,
}

record_routes! {
    mod cards, "Cards", Card, CardFields, view: ViewFootage, edit: EditFootage,
    "/api/series/{series}/cards", "/api/series/{series}/cards/{id}",
    "/api/series/{series}/cards/{id}/restore",
    CardPage, list_cards, create_card, read_card, replace_card, delete_card, restore_card,
}

record_routes! {
    mod assets, "Imported assets", Asset, AssetFields, view: ViewCuts, edit: EditAssets,
    "/api/series/{series}/assets", "/api/series/{series}/assets/{id}",
    "/api/series/{series}/assets/{id}/restore",
    AssetPage, list_assets, create_asset, read_asset, replace_asset, delete_asset, restore_asset,
}

record_routes! {
    mod music, "Music", Music, MusicFields, view: ViewCuts, edit: EditAssets,
    "/api/series/{series}/music", "/api/series/{series}/music/{id}",
    "/api/series/{series}/music/{id}/restore",
    MusicPage, list_music, create_piece_of_music, read_piece_of_music, replace_piece_of_music, delete_piece_of_music, restore_piece_of_music,
}

record_routes! {
    mod licences, "Licences", Licence, LicenceFields, view: ViewLicences, edit: EditLicences,
    "/api/series/{series}/licences", "/api/series/{series}/licences/{id}",
    "/api/series/{series}/licences/{id}/restore",
    LicencePage, list_licences, create_licence, read_licence, replace_licence, delete_licence, restore_licence,
}

record_routes! {
    mod costs, "Costs", Cost, CostFields, view: ViewFees, edit: EditLicences,
    "/api/series/{series}/costs", "/api/series/{series}/costs/{id}",
    "/api/series/{series}/costs/{id}/restore",
    CostPage, list_costs, create_cost, read_cost, replace_cost, delete_cost, restore_cost,
}

record_routes! {
    mod budgets, "Budgets", Budget, BudgetFields, view: ViewFees, edit: EditLicences,
    "/api/series/{series}/budgets", "/api/series/{series}/budgets/{id}",
    "/api/series/{series}/budgets/{id}/restore",
    BudgetPage, list_budgets, create_budget, read_budget, replace_budget, delete_budget, restore_budget,
}

record_routes! {
    mod specifications, "Specifications", Specification, SpecificationFields, view: ViewDeliveries, edit: EditSpecification,
    "/api/series/{series}/specifications", "/api/series/{series}/specifications/{id}",
    "/api/series/{series}/specifications/{id}/restore",
    SpecificationPage, list_specifications, create_specification, read_specification, replace_specification, delete_specification, restore_specification,
}

record_routes! {
    mod deliverables, "Deliverables", Deliverable, DeliverableFields, view: ViewDeliveries, edit: EditDeliverables,
    "/api/series/{series}/deliverables", "/api/series/{series}/deliverables/{id}",
    "/api/series/{series}/deliverables/{id}/restore",
    DeliverablePage, list_deliverables, create_deliverable, read_deliverable, replace_deliverable, delete_deliverable, restore_deliverable,
}

record_routes! {
    mod territory_groups, "Groups of territories", TerritoryGroup, TerritoryGroupFields, view: ViewDeliveries, edit: EditSpecification,
    "/api/series/{series}/territory-groups", "/api/series/{series}/territory-groups/{id}",
    "/api/series/{series}/territory-groups/{id}/restore",
    TerritoryGroupPage, list_territory_groups, create_territory_group, read_territory_group, replace_territory_group, delete_territory_group, restore_territory_group,
}

record_routes! {
    mod showings, "Showings", Showing, ShowingFields, view: ViewDeliveries, edit: EditDeliverables,
    "/api/series/{series}/showings", "/api/series/{series}/showings/{id}",
    "/api/series/{series}/showings/{id}/restore",
    ShowingPage, list_showings, create_showing, read_showing, replace_showing, delete_showing, restore_showing,
}

/// All records' routes.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig<'_>) {
    config
        .configure(episodes::routes)
        .configure(scenes::routes)
        .configure(shoot_days::routes)
        .configure(places::routes)
        .configure(people::routes)
        .configure(releases::routes)
        .configure(drives::routes)
        .configure(cards::routes)
        .configure(assets::routes)
        .configure(music::routes)
        .configure(licences::routes)
        .configure(costs::routes)
        .configure(budgets::routes)
        .configure(specifications::routes)
        .configure(deliverables::routes)
        .configure(territory_groups::routes)
        .configure(showings::routes);
}
