//! `server/schema/src/lib.rs` is what the migrations say. With `UPDATE=1` this test writes it.

use std::fmt::Write;
use std::path::Path;

use tokio_postgres::Client;
use waybill_tests::db::TestDb;

const COLUMNS: &str = "select c.relname::text, a.attname::text, a.attnotnull, t.typname::text, \
       coalesce(array_position(k.conkey, a.attnum), 0) \
     from pg_class c join pg_attribute a on a.attrelid = c.oid join pg_type t on t.oid = a.atttypid \
     left join pg_constraint k on k.conrelid = c.oid and k.contype = 'p' \
     where c.relnamespace = 'public'::regnamespace and c.relkind = 'r' and a.attnum > 0 \
     and not a.attisdropped and c.relname <> '__diesel_schema_migrations' \
     order by c.relname, a.attnum";

#[derive(Default)]
struct Table {
    name: String,
    /// Name and diesel's type.
    columns: Vec<(String, String)>,
    /// Position in the key and name.
    key: Vec<(i32, String)>,
}

#[tokio::test]
async fn the_schema_in_rust_is_the_schema_in_the_database() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../server/schema/src/lib.rs");
    let made = print(&tables(&TestDb::new().await.connect().await).await);
    if std::env::var_os("UPDATE").is_some() {
        std::fs::write(&path, &made).expect("the schema is written");
    }
    let kept = std::fs::read_to_string(&path).expect("the schema is there");
    assert!(
        kept == made,
        "server/schema/src/lib.rs is stale: run\n\
         UPDATE=1 cargo test -p waybill_tests --test server schema_in_rust\n{}",
        first_difference(&kept, &made)
    );
}

async fn tables(client: &Client) -> Vec<Table> {
    let mut tables: Vec<Table> = Vec::new();
    for row in client
        .query(COLUMNS, &[])
        .await
        .expect("the catalogue answers")
    {
        let table: String = row.get(0);
        let column: String = row.get(1);
        let bare = diesel_type(row.get(3));
        let kind = if row.get::<_, bool>(2) {
            bare
        } else {
            format!("Nullable<{bare}>")
        };
        if tables.last().is_none_or(|last| last.name != table) {
            tables.push(Table {
                name: table,
                ..Table::default()
            });
        }
        let last = tables.last_mut().expect("one was just pushed");
        if row.get::<_, i32>(4) > 0 {
            last.key.push((row.get(4), column.clone()));
        }
        last.columns.push((column, kind));
    }
    for table in &mut tables {
        table.key.sort();
    }
    tables
}

fn diesel_type(postgres: &str) -> String {
    if let Some(item) = postgres.strip_prefix('_') {
        return format!("Array<{}>", diesel_type(item));
    }
    let name = match postgres {
        "bool" => "Bool",
        "bytea" => "Bytea",
        "date" => "Date",
        "int2" => "SmallInt",
        "int4" => "Integer",
        "int8" => "BigInt",
        "jsonb" => "Jsonb",
        "text" => "Text",
        "timestamptz" => "Timestamptz",
        "uuid" => "Uuid",
        other => panic!("no column had the type {other} so far: add it here"),
    };
    name.to_owned()
}

fn print(tables: &[Table]) -> String {
    let mut text = "//! The database's tables. @generated from the migrations by tests/schema; do not edit.\n\n".to_owned();
    for table in tables {
        let key: Vec<&str> = table.key.iter().map(|(_, name)| name.as_str()).collect();
        writeln!(
            text,
            "diesel::table! {{\n    {} ({}) {{",
            table.name,
            key.join(", ")
        )
        .expect("text");
        for (name, kind) in &table.columns {
            writeln!(text, "        {name} -> {kind},").expect("text");
        }
        text.push_str("    }\n}\n\n");
    }
    text.push_str("diesel::allow_tables_to_appear_in_same_query!(\n");
    for table in tables {
        writeln!(text, "    {},", table.name).expect("text");
    }
    text.push_str(");\n");
    text
}

fn first_difference(kept: &str, made: &str) -> String {
    let mut lines = kept.lines().zip(made.lines()).enumerate();
    match lines.find(|(_, (kept, made))| kept != made) {
        Some((number, (kept, made))) => format!("line {}: `{kept}` should be `{made}`", number + 1),
        None => "one is longer than the other".to_owned(),
    }
}
