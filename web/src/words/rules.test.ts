// Every rule that a reason can name is told in words.
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { ruleWords } from "./rules";

const DOMAIN = join(import.meta.dirname, "../../../server/domain/src/clearance");

// Source: design: every answer can be asked "why?", and one click opens the rule.
test("no rule that the server names is without its words", () => {
  const files = readdirSync(DOMAIN, { recursive: true, encoding: "utf8" });
  const named = files
    .filter((name) => name.endsWith(".rs") && !name.includes("test"))
    .flatMap((name) => [...readFileSync(join(DOMAIN, name), "utf8").matchAll(/"(R\d+)"/g)])
    .map(([, rule]) => rule as string);
  expect(named.length).toBeGreaterThan(20);
  expect([...new Set(named)].filter((rule) => !ruleWords(rule))).toEqual([]);
});
