drop table reminder_notices, reminders, mails, jobs;
