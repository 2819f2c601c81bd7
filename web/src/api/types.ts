// Shapes of the server's answers that the pages name. Record fields are the columns of the migrations.

export interface ProblemField {
  /** JSON pointer into the body that was sent, as `/credited_name`. */
  pointer: string;
  detail: string;
  code?: string;
}

export interface Problem {
  title: string;
  status: number;
  detail?: string;
  code?: string;
  instance: string | null;
  errors?: ProblemField[];
  current?: Record<string, unknown>;
  changed_by?: string | null;
  changed_at?: string | null;
}

export interface Page<T> {
  items: T[];
  next: string | null;
  total?: number | null;
}

export interface SavedRecord {
  id: string;
  version: number;
  created_at: string;
  updated_at: string;
  [field: string]: unknown;
}

export type MailChoice = "each" | "digest" | "none";

export interface User {
  id: string;
  name: string;
  email: string;
  is_admin: boolean;
  disabled: boolean;
  mail_choice: MailChoice;
  version: number;
}

export interface Me {
  user: User;
  organisation: string;
  series: { id: string; title: string; roles: string[]; actions: string[] }[];
}

export interface SignIn {
  id: string;
  created_at: string;
  last_seen_at: string;
  expires_at?: string;
  agent: string;
  address: string;
}

export interface DeviceToken {
  id: string;
  label: string;
  created_at: string;
  expires_at: string;
  last_used_at: string | null;
}

export interface Invitation {
  id: string;
  series_id: string | null;
  email: string;
  roles: string[];
  created_at: string;
  expires_at: string;
}

export interface AuditLine {
  id: number;
  at: string;
  actor_id: string | null;
  actor_name: string;
  action: string;
  subject_kind: string;
  subject_id: string | null;
  before: Record<string, unknown> | null;
  after: Record<string, unknown> | null;
}
