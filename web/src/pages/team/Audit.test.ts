import { describe, expect, it } from "vitest";
import type { AuditLine } from "../../api/types";
import { runs } from "./Audit";

const line = (id: number, more: Partial<AuditLine> = {}): AuditLine => ({
  id,
  at: "2029-01-09T12:00:00Z",
  actor_id: "ada",
  actor_name: "Ada",
  action: "created",
  subject_kind: "log_entry",
  subject_id: `${id}`,
  before: null,
  after: null,
  request_id: null,
  ...more,
});

describe("runs of changes", () => {
  it("puts together what one person did to one kind within a minute", () => {
    const sizes = runs([
      line(9),
      line(8, { at: "2029-01-09T11:59:30Z" }),
      line(7, { at: "2029-01-09T11:58:00Z" }),
      line(6, { action: "deleted", at: "2029-01-09T11:58:00Z" }),
      line(5, { action: "deleted", actor_id: "bo", at: "2029-01-09T11:58:00Z" }),
    ]).map((run) => run.length);
    expect(sizes).toEqual([2, 1, 1, 1]);
  });

  it("keeps one import together however long it took, and loses no line", () => {
    const many = Array.from({ length: 500 }, (_, n) =>
      line(n, { request_id: "r", at: new Date(n * 120_000).toISOString() }),
    );
    expect(runs(many).map((run) => run.length)).toEqual([500]);
    expect(runs([])).toEqual([]);
  });
});
