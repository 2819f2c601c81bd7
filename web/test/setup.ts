// What jsdom lacks and Mantine asks for; cleans the page after each test.
import "@testing-library/jest-dom/vitest";
import { cleanup } from "@testing-library/react";
import { afterEach } from "vitest";

afterEach(() => cleanup());

window.matchMedia ??= (query: string) =>
  ({
    matches: false,
    media: query,
    onchange: null,
    addEventListener: () => {},
    removeEventListener: () => {},
    addListener: () => {},
    removeListener: () => {},
    dispatchEvent: () => false,
  }) as MediaQueryList;

class NoResize {
  observe() {}
  unobserve() {}
  disconnect() {}
}
window.ResizeObserver ??= NoResize as unknown as typeof ResizeObserver;
window.HTMLElement.prototype.scrollIntoView ??= () => {};
window.scrollTo = () => {};
if (!("fonts" in document)) {
  Object.defineProperty(document, "fonts", { value: new EventTarget() });
}
