//! A database for every test: a copy of one template, which was migrated once. One thread owns the
//! administrator's connection, so that copies are made one after another (PostgreSQL would queue
//! them anyway) and a database can be dropped from `Drop`, where nothing can be awaited.

use std::sync::OnceLock;
use std::sync::atomic::{AtomicU32, Ordering};

use tokio::sync::{mpsc, oneshot};
use tokio_postgres::{Client, NoTls};

use crate::cluster::server;

static CLERK: OnceLock<mpsc::UnboundedSender<Order>> = OnceLock::new();
static NEXT: AtomicU32 = AtomicU32::new(1);

enum Order {
    Create {
        name: String,
        filled: bool,
        done: oneshot::Sender<Result<(), String>>,
    },
    Drop {
        name: String,
    },
}

/// A database of one test's own; dropped with the value.
pub struct TestDb {
    name: String,
}

impl TestDb {
    /// A database with Waybill's tables and no rows.
    pub async fn new() -> Self {
        Self::make(true).await
    }

    /// A database with nothing in it, not even tables.
    pub async fn empty() -> Self {
        Self::make(false).await
    }

    async fn make(filled: bool) -> Self {
        let number = NEXT.fetch_add(1, Ordering::Relaxed);
        let name = format!("test_{}_{number}", std::process::id());
        let (done, answer) = oneshot::channel();
        let order = Order::Create {
            name: name.clone(),
            filled,
            done,
        };
        assert!(
            clerk().send(order).is_ok(),
            "the thread that makes databases is gone"
        );
        let made = answer
            .await
            .expect("the thread that makes databases answers");
        made.unwrap_or_else(|error| panic!("making the database {name}: {error}"));
        Self { name }
    }

    /// Its address.
    pub fn url(&self) -> String {
        server().url_of(&self.name)
    }

    /// A plain connection, for questions that the server's own code does not ask.
    pub async fn connect(&self) -> Client {
        connect(&self.url()).await
    }
}

impl Drop for TestDb {
    fn drop(&mut self) {
        // At the end of the run the thread may be gone; the whole cluster goes then.
        let _ = clerk().send(Order::Drop {
            name: self.name.clone(),
        });
    }
}

async fn connect(url: &str) -> Client {
    let (client, connection) = tokio_postgres::connect(url, NoTls)
        .await
        .unwrap_or_else(|error| panic!("{url}: {error}"));
    tokio::spawn(connection);
    client
}

fn clerk() -> &'static mpsc::UnboundedSender<Order> {
    CLERK.get_or_init(|| {
        let (sender, orders) = mpsc::unbounded_channel();
        std::thread::Builder::new()
            .name("databases".to_owned())
            .spawn(move || {
                // The migration runner blocks in place, which needs a runtime of several threads.
                tokio::runtime::Builder::new_multi_thread()
                    .worker_threads(1)
                    .enable_all()
                    .build()
                    .expect("a runtime")
                    .block_on(work(orders));
            })
            .expect("a thread");
        sender
    })
}

async fn work(mut orders: mpsc::UnboundedReceiver<Order>) {
    let admin = connect(&server().url_of("postgres")).await;
    let template = format!("template_{}", std::process::id());
    let mut migrated = false;
    while let Some(order) = orders.recv().await {
        match order {
            Order::Create { name, filled, done } => {
                if filled && !migrated {
                    run(&admin, &format!("create database {template}"))
                        .await
                        .expect("a template");
                    waybill_server::db::migrate::up(&server().url_of(&template))
                        .await
                        .unwrap_or_else(|error| panic!("the migrations: {error}"));
                    migrated = true;
                }
                let from = if filled {
                    template.as_str()
                } else {
                    "template0"
                };
                let sql = format!("create database {name} template {from}");
                // A test that gave up waiting needs no answer.
                let _ = done.send(run(&admin, &sql).await);
            }
            Order::Drop { name } => {
                if let Err(error) = run(&admin, &format!("drop database {name} with (force)")).await
                {
                    eprintln!("dropping {name}: {error}");
                }
            }
        }
    }
}

async fn run(admin: &Client, sql: &str) -> Result<(), String> {
    admin
        .batch_execute(sql)
        .await
        .map_err(|error| match error.as_db_error() {
            Some(refused) => refused.message().to_owned(),
            None => error.to_string(),
        })
}
