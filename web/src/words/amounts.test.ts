import { expect, test } from "vitest";
import { counted, showAmount, showHours, showShare } from "./amounts";

test("amounts name one and many", () => {
  expect(showAmount({ files: 1, bytes: 5 })).toBe("1 file, 5 bytes");
  expect(counted(1, "copy", "copies")).toBe("1 copy");
  expect(counted(0, "copy", "copies")).toBe("0 copies");
  expect(counted(2412, "file")).toBe("2,412 files");
  expect(showAmount({ files: 2412, bytes: 1.2e12 })).toBe("2,412 files, 1.20 TB");
});

test("times are said in the unit that people plan in", () => {
  // R47: 512 GB at 400 MB/s take 21.3 minutes
  expect(showHours(512e9 / 400e6)).toBe("21 minutes");
  expect(showHours(0.2)).toBe("less than a second");
  expect(showHours(40)).toBe("40 seconds");
  expect(showHours(19_200)).toBe("5.3 hours");
});

test("shares keep three figures", () => {
  // R43: 1.57 %, twelve drives 17.3 %, two copies 0.025 %
  expect(showShare(0.0157)).toBe("1.57 %");
  expect(showShare(1 - 0.9843 ** 12)).toBe("17.3 %");
  expect(showShare(0.0157 ** 2)).toBe("0.0246 %");
  expect(showShare(0)).toBe("0 %");
});
