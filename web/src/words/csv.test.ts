// The form is RFC 4180's; the examples of quoting are its section 2, rules 6 and 7.
import { describe, expect, it } from "vitest";
import { shownIn, toCsv } from "./csv";

describe("a table as CSV", () => {
  it("quotes as RFC 4180 says", () => {
    expect(
      toCsv([
        ["aaa", 'b"bb', "c,cc"],
        ["x", "y\r\nz", ""],
      ]),
    ).toBe('\uFEFFaaa,"b""bb","c,cc"\r\nx,"y\r\nz",\r\n');
  });

  it("lets no cell run as a formula", () => {
    expect(toCsv([["=1+1", "@x", "-", "+44 7700"]])).toBe("\uFEFF'=1+1,'@x,-,'+44 7700\r\n");
  });

  it("takes what a table shows", () => {
    document.body.innerHTML = `<table><thead><tr><th><button>Name<span aria-hidden="true">↑</span></button></th><th>State</th></tr></thead>
      <tbody><tr><th><a>Ann Lee</a><small data-shown-again>gap</small></th><td><span class="pattern" aria-hidden="true">|</span><span>gap</span><p>two
      lines</p></td></tr></tbody></table>`;
    const table = document.querySelector("table");
    expect(table && shownIn(table)).toEqual([
      ["Name", "State"],
      ["Ann Lee", "gap two lines"],
    ]);
  });
});
