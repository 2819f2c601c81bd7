//! Statements written by hand that each connection prepares once. `diesel::sql_query` prepares anew each time: one more
//! round trip, and the planner's work again.

use std::borrow::Cow;

use diesel::QueryResult;
use diesel::pg::Pg;
use diesel::query_builder::{AstPass, Query, QueryFragment, QueryId};
use diesel::serialize::ToSql;
use diesel::sql_types::{HasSqlType, Untyped};

/// A statement of one fixed text, with what stands for its `$1`, `$2`, …; loaded by name, as `sql_query` is.
///
/// A text that is put together from what somebody asks is [`once`]: what is prepared is kept until the connection ends.
#[must_use = "a statement does nothing until it is loaded or executed"]
pub struct Statement<'a> {
    text: Cow<'static, str>,
    kept: bool,
    values: Vec<Box<dyn QueryFragment<Pg> + Send + 'a>>,
}

/// Begins a statement.
pub fn statement<'a>(text: impl Into<Cow<'static, str>>) -> Statement<'a> {
    Statement {
        text: text.into(),
        kept: true,
        values: Vec::new(),
    }
}

/// Begins a statement that is planned for its values and not kept.
pub fn once<'a>(text: impl Into<Cow<'static, str>>) -> Statement<'a> {
    Statement {
        kept: false,
        ..statement(text)
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
        if !self.kept {
            pass.unsafe_to_cache_prepared();
        }
        pass.push_sql(&self.text);
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
