// Boxes of the media tree against the rule of inclusion in cases/README (coverage): a name includes what
// begins with it and a dot, `all` includes everything, exceptions are taken away.
import { expect, test } from "vitest";
import { mediaTree } from "../../words/media";
import { isIn, toggled } from "./MediaField";

const television = mediaTree[0];
const free = television?.children?.[0];
const pay = television?.children?.[1];
if (!television || !free || !pay) throw new Error("the tree begins with television");

test("a branch includes its leaves, an exception takes one away", () => {
  expect(isIn({ media: ["television"], except: [] }, "television.free")).toBe(true);
  expect(isIn({ media: ["television.free"], except: [] }, "television")).toBe(false);
  expect(isIn({ media: ["all"], except: ["promo"] }, "promo.in_context")).toBe(false);
});

test("switching a leaf off under a chosen branch makes an exception, and on again removes it", () => {
  const off = toggled({ media: ["television"], except: [] }, pay, television);
  expect(off).toEqual({ media: ["television"], except: ["television.pay"] });
  expect(toggled(off, pay, television)).toEqual({ media: ["television"], except: [] });
});

test("all leaves chosen become their branch", () => {
  const one = toggled({ media: [], except: [] }, free, television);
  expect(one.media).toEqual(["television.free"]);
  expect(toggled(one, pay, television)).toEqual({ media: ["television"], except: [] });
});

test("a branch with an exception becomes whole again", () => {
  expect(toggled({ media: ["all"], except: ["television.pay"] }, television, null)).toEqual({
    media: ["all"],
    except: [],
  });
});
