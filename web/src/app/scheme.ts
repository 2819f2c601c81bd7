// Light, dark, or as the system says; first-paint.js puts the same choice on the page before the first paint.
import type { MantineColorScheme, MantineColorSchemeManager } from "@mantine/core";
import { localStorageColorSchemeManager } from "@mantine/core";

export const schemeManager: MantineColorSchemeManager = localStorageColorSchemeManager({
  key: "waybill-scheme",
});

export const schemes: readonly { value: MantineColorScheme; label: string }[] = [
  { value: "auto", label: "As the system" },
  { value: "light", label: "Light" },
  { value: "dark", label: "Dark" },
];
