//! Statements written by hand that each connection prepares once. `diesel::sql_query` prepares anew each time: one more
//! round trip, and the planner's work again.

use diesel::QueryResult;
use diesel::pg::Pg;
use diesel::query_builder::{AstPass, Query, QueryFragment, QueryId};
use diesel::serialize::ToSql;
use diesel::sql_types::{HasSqlType, Untyped};

/// A statement of one fixed text, with what stands for its `$1`, `$2`, …; loaded by name, as `sql_query` is.
///
/// Not for texts that are put together from what somebody asks: each text is kept until the connection ends.
#[must_use = "a statement does nothing until it is loaded or executed"]
pub struct Statement<'a> {
    text: &'static str,
    values: Vec<Box<dyn QueryFragment<Pg> + Send + 'a>>,
}

/// Begins a statement.
pub fn statement<'a>(text: &'static str) -> Statement<'a> {
    Statement {
        text,
        values: Vec::new(),
    }
}

struct Value<T, V> {
    value: V,
    sql_type: std::marker::PhantomData<fn() -> T>,
}

impl<T, V> QueryFragment<Pg> for Value<T, V>
where
    Pg: HasSqlType<T>,
    V: ToSql<T, Pg>,
{
    fn walk_ast<'b>(&'b self, mut pass: AstPass<'_, 'b, Pg>) -> QueryResult<()> {
        pass.push_bind_param(&self.value)
    }
}

impl<'a> Statement<'a> {
    /// Gives the next number its value.
    pub fn bind<T, V>(mut self, value: V) -> Self
    where
        Pg: HasSqlType<T>,
        T: 'a,
        V: ToSql<T, Pg> + Send + 'a,
    {
        self.values.push(Box::new(Value {
            value,
            sql_type: std::marker::PhantomData::<fn() -> T>,
        }));
        self
    }
}

impl QueryFragment<Pg> for Statement<'_> {
    fn walk_ast<'b>(&'b self, mut pass: AstPass<'_, 'b, Pg>) -> QueryResult<()> {
        pass.push_sql(self.text);
        // The text has its numbers already; those that diesel writes with each value go into a comment.
        pass.push_sql(" -- ");
        for value in &self.values {
            value.walk_ast(pass.reborrow())?;
        }
        Ok(())
    }
}

impl QueryId for Statement<'_> {
    type QueryId = ();
    const HAS_STATIC_QUERY_ID: bool = false;
}

impl Query for Statement<'_> {
    type SqlType = Untyped;
}
