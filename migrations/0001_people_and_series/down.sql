drop table audit;
drop function refuse_audit_change();
drop table invitations, memberships, series, server_facts, sign_in_failures, password_resets, device_tokens, sessions,
    users, organisations;
