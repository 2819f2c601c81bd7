//! The database's messages: asked for in English wherever the role may, since some faults are told by their words.

use waybill_server::db::pool;
use waybill_tests::db::TestDb;

#[tokio::test]
async fn messages_are_asked_for_in_english_by_whoever_may() {
    let db = TestDb::empty().await;
    let admin = db.connect().await;
    let row = admin
        .query_one("select current_database()::text", &[])
        .await;
    let name: String = row.expect("a row").get(0);
    let role = format!("{name}_plain");
    // POSIX is the only other locale that every machine has
    let prepare = format!("create role {role}; alter database {name} set lc_messages to 'POSIX'");
    admin
        .batch_execute(&prepare)
        .await
        .expect("an administrator");
    let language = async |url: &str| {
        let pool = pool::open(url, 1).expect("a pool");
        pool::language(&pool).await.expect("the database is there")
    };
    assert_eq!(language(&db.url()).await, "C", "an administrator may");
    let mark = if db.url().contains('?') { '&' } else { '?' };
    let plain = format!("{}{mark}options=-c%20role%3D{role}", db.url());
    assert_eq!(
        language(&plain).await,
        "POSIX",
        "a plain role may not, and gets in"
    );
    let grant = format!("grant set on parameter lc_messages to {role}");
    admin.batch_execute(&grant).await.expect("an administrator");
    assert_eq!(language(&plain).await, "C", "now it may");
    let clean = format!("drop owned by {role}; drop role {role}");
    admin.batch_execute(&clean).await.expect("an administrator");
}
