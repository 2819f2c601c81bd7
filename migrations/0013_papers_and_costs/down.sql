drop table checklist_answers, costs, budgets;
