//! People who are signed in, made without the cost of a password. Tests of passwords use the real way in.

use chrono::TimeDelta;
use uuid::Uuid;
use waybill_domain::perms::Role;
use waybill_server::auth::tokens::{digest, random};
use waybill_server::db::{series, users};

use crate::app::TestApp;
use crate::http::Client;

impl TestApp {
    /// An administrator of the organisation.
    pub async fn admin(&self) -> Client {
        self.person_of(self.organisation, "Ada Admin", true).await
    }

    /// Somebody of the organisation with these roles in a series; without roles, somebody who is not in it.
    pub async fn person(&self, name: &str, series: &str, roles: &[Role]) -> Client {
        let client = self.person_of(self.organisation, name, false).await;
        if !roles.is_empty() {
            let user = client.user_id.expect("made with an id");
            self.give_roles(series, user, roles).await;
        }
        client
    }

    /// An administrator of another organisation on the same server.
    pub async fn foreign_admin(&self) -> Client {
        let conn = &mut *self.app.pool.get().await.expect("a connection");
        let other = users::insert_organisation(conn, "Elsewhere Pictures", self.app.now())
            .await
            .expect("an organisation");
        self.person_of(other, "Fern Foreign", true).await
    }

    /// Sets the roles of somebody in a series.
    pub async fn give_roles(&self, in_series: &str, user: Uuid, roles: &[Role]) {
        let conn = &mut *self.app.pool.get().await.expect("a connection");
        let id = in_series.parse().expect("an id");
        series::set_roles(conn, id, user, roles, self.app.now())
            .await
            .expect("roles are set");
    }

    /// Somebody of an organisation, signed in by a session of their own.
    pub async fn person_of(&self, organisation: Uuid, name: &str, is_admin: bool) -> Client {
        let conn = &mut *self.app.pool.get().await.expect("a connection");
        let now = self.app.now();
        let email = format!("{}@breakwater.example", Uuid::now_v7());
        let new = users::NewUser {
            organisation_id: organisation,
            email: &email,
            name,
            password_hash: "no password fits this",
            is_admin,
        };
        let user = users::insert(conn, new, now).await.expect("a person");
        let token = random();
        users::insert_session(
            conn,
            user.id,
            &digest(&token),
            "test",
            "127.0.0.1",
            now,
            TimeDelta::days(30),
        )
        .await
        .expect("a session");
        let mut client = self.stranger().with("cookie", &format!("waybill={token}"));
        client.user_id = Some(user.id);
        client
    }
}
