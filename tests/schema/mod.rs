//! What must be true of every table, asked of PostgreSQL's own catalogue, and whether the migrations
//! can be taken back.

mod diesel_schema;
mod placed;

use tokio_postgres::Client;
use waybill_server::db::migrate;
use waybill_tests::cluster::server;
use waybill_tests::db::TestDb;

/// Rows of text, joined by blanks: an empty list is the answer wanted by most tests here.
async fn rows(client: &Client, sql: &str) -> Vec<String> {
    let rows = client
        .query(sql, &[])
        .await
        .unwrap_or_else(|error| panic!("{error}\n{sql}"));
    rows.iter().map(|row| row.get(0)).collect()
}

/// The whole schema as PostgreSQL itself writes it down, without what differs between two runs.
fn dump(db: &TestDb) -> String {
    let output = server()
        .program("pg_dump")
        .args(["--schema-only", "--no-owner", "--dbname", &db.url()])
        .output()
        .expect("pg_dump runs");
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let text = String::from_utf8(output.stdout).expect("UTF-8");
    // Newer versions bracket a dump with a random word.
    let kept = text
        .lines()
        .filter(|line| !line.starts_with("\\restrict") && !line.starts_with("\\unrestrict"));
    kept.collect::<Vec<_>>().join("\n")
}

#[tokio::test(flavor = "multi_thread")]
async fn up_down_up_leaves_the_same_schema() {
    let db = TestDb::empty().await;
    migrate::up(&db.url()).await.expect("up");
    let first = dump(&db);
    migrate::down(&db.url()).await.expect("down");
    let left = "select relname::text from pg_class \
         where relnamespace = 'public'::regnamespace and relkind in ('r', 'v', 'm', 'S') \
         and relname <> '__diesel_schema_migrations' \
         union all select proname::text from pg_proc where pronamespace = 'public'::regnamespace \
         union all select typname::text from pg_type \
         where typnamespace = 'public'::regnamespace and typtype in ('e', 'd')";
    assert_eq!(
        rows(&db.connect().await, left).await,
        [""; 0],
        "left after taking every step back"
    );
    migrate::up(&db.url()).await.expect("up again");
    assert_eq!(dump(&db), first);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_second_up_does_nothing() {
    let db = TestDb::new().await;
    assert_eq!(migrate::up(&db.url()).await.expect("up"), [""; 0]);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_newer_database_is_refused() {
    let db = TestDb::new().await;
    let newer = "insert into __diesel_schema_migrations (version, run_on) values ('9999', now())";
    db.connect()
        .await
        .batch_execute(newer)
        .await
        .expect("a row");
    let error = migrate::up(&db.url()).await.expect_err("it is newer");
    assert!(matches!(error, migrate::MigrateError::Newer(_)), "{error}");
}

#[tokio::test]
async fn every_foreign_key_has_an_index() {
    // An index serves a key when its first columns are the key's, in whatever order.
    let sql = "select format('%s (%s)', conrelid::regclass, conname) from pg_constraint c \
         where contype = 'f' and connamespace = 'public'::regnamespace and not exists ( \
           select from pg_index i where i.indrelid = c.conrelid and i.indpred is null \
           and (i.indkey::int2[])[0:cardinality(c.conkey) - 1] @> c.conkey \
           and (i.indkey::int2[])[0:cardinality(c.conkey) - 1] <@ c.conkey) order by 1";
    assert_eq!(
        rows(&TestDb::new().await.connect().await, sql).await,
        [""; 0]
    );
}

#[tokio::test]
async fn no_table_has_more_than_32_columns() {
    let sql = "select format('%s has %s', attrelid::regclass, count(*)) from pg_attribute \
         join pg_class on pg_class.oid = attrelid \
         where relnamespace = 'public'::regnamespace and relkind = 'r' and attnum > 0 \
         and not attisdropped group by attrelid having count(*) > 32 order by 1";
    assert_eq!(
        rows(&TestDb::new().await.connect().await, sql).await,
        [""; 0]
    );
}

#[tokio::test]
async fn what_belongs_to_a_series_goes_with_it() {
    let sql = "select attrelid::regclass::text from pg_attribute a \
         join pg_class t on t.oid = attrelid \
         where t.relnamespace = 'public'::regnamespace and t.relkind = 'r' \
         and attname = 'series_id' and not exists ( \
           select from pg_constraint where conrelid = a.attrelid and contype = 'f' \
           and conkey = array[a.attnum] and confrelid = 'series'::regclass \
           and confdeltype = 'c') order by 1";
    // The audit trail outlives its subject.
    assert_eq!(
        rows(&TestDb::new().await.connect().await, sql).await,
        ["audit"]
    );
}

#[tokio::test]
async fn no_column_stamps_its_own_time() {
    // Time is a value that the server passes in, so that tests can set it.
    let sql = "select format('%s.%s', adrelid::regclass, attname) from pg_attrdef \
         join pg_attribute on attrelid = adrelid and attnum = adnum \
         join pg_class on pg_class.oid = adrelid \
         where relnamespace = 'public'::regnamespace and relname <> '__diesel_schema_migrations' \
         and pg_get_expr(adbin, adrelid) ~* 'now\\(\\)|current_|clock_timestamp' order by 1";
    assert_eq!(
        rows(&TestDb::new().await.connect().await, sql).await,
        [""; 0]
    );
}
