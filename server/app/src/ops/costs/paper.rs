//! The money as a file. On paper an amount is in words, with its currency; in a workbook or a table it is a number, its
//! currency in a column of its own, so that it sorts and adds up.

use serde_json::json;
use uuid::Uuid;
use waybill_domain::costs::{amount_number, amount_words};
use waybill_domain::papers::{NOT_ADVICE, PaperFact, PaperSection, PrintedPaper};
use waybill_domain::wording::date_words;

use super::{CostSummary, Money, gather, open, sum, taken, terms};
use crate::app::App;
use crate::db::costs::Cost;
use crate::error::OpError;
use crate::ops::access::Actor;
use crate::ops::audit::{self, NOTHING, Subject};
use crate::ops::papers::{self, File, Form};

/// The money as a file.
///
/// # Errors
/// Access; the database's.
pub async fn file(app: &App, actor: &Actor, series: Uuid, form: Form) -> Result<File, OpError> {
    let (access, money) = gather(app, actor, series).await?;
    let now = app.now();
    let today = access.today(now);
    let summary = sum(&money);
    let amounts = match form {
        Form::Pdf => Amounts::Words,
        Form::Xlsx | Form::Csv | Form::Json => Amounts::Numbers,
    };
    let paper = PrintedPaper {
        title: "Costs of licences".into(),
        series: access.series.fields.title.clone(),
        episode: "All episodes".into(),
        cut: String::new(),
        verdict: String::new(),
        facts: [
            PaperFact::some("Producer", access.series.fields.producer_entity.clone()),
            PaperFact::some("As of", date_words(today)),
        ]
        .into_iter()
        .flatten()
        .collect(),
        sections: sections(&money, &summary, amounts),
        assumptions: summary.assumptions.clone(),
        cautions: vec![
            "Confidential: for those who may see fees.".into(),
            NOT_ADVICE.into(),
        ],
        landscape: true,
        made_at: now,
        time_zone: access.series.fields.zone.clone(),
        made_by: access.actor.name.clone(),
    };
    let name = format!("costs_{}.{}", today.format("%y%m%d"), form.ending());
    let made = papers::set(app, paper, form, name).await?;
    let conn = &mut *app.pool.get().await?;
    let subject = Subject::of(series, "report", series);
    let after = json!({ "file": made.name });
    audit::record(
        conn,
        actor,
        now,
        "downloaded",
        subject,
        NOTHING,
        Some(&after),
    )
    .await?;
    Ok(made)
}

/// How amounts are written.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Amounts {
    Words,
    Numbers,
}

impl Amounts {
    fn write(self, currency: &str, minor: i64) -> String {
        match self {
            Amounts::Words => amount_words(currency, minor),
            Amounts::Numbers => amount_number(minor),
        }
    }

    fn maybe(self, currency: &str, minor: Option<i64>) -> String {
        minor.map_or_else(String::new, |minor| self.write(currency, minor))
    }

    /// Columns or cells with the currency's own after the first so many, where amounts are numbers.
    fn with<T>(self, after: usize, currency: T, rest: impl IntoIterator<Item = T>) -> Vec<T> {
        let mut all: Vec<T> = rest.into_iter().collect();
        if self == Amounts::Numbers {
            all.insert(after.min(all.len()), currency);
        }
        all
    }
}

const CURRENCY: (&str, u32, bool) = ("Currency", 3, false);

fn sections(money: &Money, summary: &CostSummary, amounts: Amounts) -> Vec<PaperSection> {
    let mut lines = PaperSection::new(
        "Against the budget",
        "No cost and no budget is entered.",
        &amounts.with(
            1,
            CURRENCY,
            [
                ("Episode", 8, false),
                ("Budget", 5, true),
                ("Quoted", 5, true),
                ("Agreed", 5, true),
                ("Paid", 5, true),
                ("Left", 5, true),
                ("Equal terms add", 5, true),
                ("Step-ups not taken", 5, true),
                ("Its part of the series' own", 5, true),
            ],
        ),
    );
    for line in &summary.lines {
        let write = |minor: i64| amounts.write(&line.currency, minor);
        let no_budget = match amounts {
            Amounts::Words => "none",
            Amounts::Numbers => "",
        };
        let cells = [
            line.title.clone(),
            line.budget_minor.map_or_else(|| no_budget.into(), write),
            write(line.quoted_minor),
            write(line.agreed_minor),
            write(line.paid_minor),
            line.left_minor.map_or_else(String::new, write),
            write(line.raised_minor),
            write(line.step_ups_minor),
            write(line.shared_minor),
        ];
        lines.push(
            line.left_minor.map_or(
                line.quoted_minor + line.agreed_minor + line.paid_minor > 0,
                |left| left < 0,
            ),
            amounts.with(1, line.currency.clone(), cells),
        );
    }
    let mut columns = amounts.with(
        3,
        CURRENCY,
        [
            ("Licensor", 7, false),
            ("For", 7, false),
            ("Episode", 5, false),
            ("Quoted", 5, true),
            ("Agreed", 5, true),
            ("Paid", 5, true),
        ],
    );
    if amounts == Amounts::Numbers {
        columns.extend([("Step-ups taken", 5, true), ("Step-ups not taken", 5, true)]);
    }
    columns.push(("Terms", 8, false));
    let mut each = PaperSection::new("Licence by licence", "No cost is entered.", &columns);
    for cost in &money.costs {
        each.push(false, cost_cells(money, cost, amounts));
    }
    let mut notes = PaperSection::new("To look at", "Nothing stands out.", &[("What", 20, false)]);
    for term in &summary.equal_terms {
        notes.push(true, [term.sentence.clone()]);
    }
    for words in &summary.differences {
        notes.push(true, [words.clone()]);
    }
    vec![lines, each, terms::section(&summary.billed), notes]
}

fn cost_cells(money: &Money, cost: &Cost, amounts: Amounts) -> Vec<String> {
    let fields = &cost.fields;
    let licence = money
        .licences
        .iter()
        .find(|one| one.id == fields.licence_id);
    let episode = (money.episodes.iter())
        .find(|(id, ..)| Some(*id) == fields.episode_id)
        .map_or_else(|| "series".to_owned(), |(_, number, _)| number.to_string());
    let write = |minor: Option<i64>| amounts.maybe(&fields.currency, minor);
    let mut words: Vec<String> = (fields.step_ups.0.iter())
        .map(|step| {
            let state = match (step.taken, step.until) {
                (true, _) => "taken".to_owned(),
                (false, Some(until)) if until < money.today => {
                    format!("not taken by {}", date_words(until))
                }
                (false, Some(until)) => format!("until {}", date_words(until)),
                (false, None) => "open".to_owned(),
            };
            format!(
                "{}: {} ({state})",
                step.what,
                amount_words(&fields.currency, step.amount_minor)
            )
        })
        .collect();
    if fields.most_favoured {
        words.insert(0, "equal terms".into());
    }
    let cells = [
        licence.map(|one| one.licensor.clone()).unwrap_or_default(),
        licence.map(|one| one.subject.clone()).unwrap_or_default(),
        episode,
        write(fields.quoted_minor),
        write(fields.agreed_minor),
        write(fields.paid_minor),
    ];
    let mut cells = amounts.with(3, fields.currency.clone(), cells);
    if amounts == Amounts::Numbers {
        cells.push(write(Some(taken(cost))));
        cells.push(write(Some(open(cost, money.today))));
    }
    cells.push(words.join("; "));
    cells
}
