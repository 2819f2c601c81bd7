// Mantine in our own colours: its shades point at the tokens, so that there is one list of colours.
import {
  Button,
  type CSSVariablesResolver,
  createTheme,
  Drawer,
  type MantineColorsTuple,
  Modal,
  Tooltip,
} from "@mantine/core";

// Shades are used for filled and light controls only; text and lines come from the tokens.
const tide: MantineColorsTuple = [
  "#e8f2f1",
  "#cfe4e3",
  "#a3cccc",
  "#72c4c6",
  "#4a9ca0",
  "#2b7d84",
  "#176a72",
  "#0f5e66",
  "#0b4a51",
  "#07363b",
];

const brick: MantineColorsTuple = [
  "#f9ece6",
  "#f0d6cb",
  "#e7b5a3",
  "#e79a83",
  "#cc7a61",
  "#b25a41",
  "#a34a34",
  "#96402c",
  "#7a3222",
  "#5d2519",
];

// Mantine's greys, warm in the light scheme and of night water in the dark one. Shade 4 is the edge of inputs.
const gray: MantineColorsTuple = [
  "#f3eee4",
  "#ece6d9",
  "#e2dacb",
  "#d3cabb",
  "#837d70",
  "#767063",
  "#5f5a50",
  "#4b473f",
  "#33302a",
  "#1d1b18",
];

const dark: MantineColorsTuple = [
  "#e4e1d8",
  "#c6cac8",
  "#a7b3b6",
  "#8a9aa0",
  "#71868f",
  "#2a3a42",
  "#162228",
  "#10191d",
  "#0d1519",
  "#0a1114",
];

export const theme = createTheme({
  primaryColor: "tide",
  primaryShade: { light: 7, dark: 3 },
  colors: { tide, brick, gray, dark },
  white: "#fffdf9",
  black: "#1d2a30",
  fontSizes: { xs: "13.5px", sm: "15px", md: "15px", lg: "17px", xl: "18px" },
  autoContrast: true,
  luminanceThreshold: 0.35,
  fontFamily: "var(--font)",
  fontFamilyMonospace: "var(--font)",
  headings: { fontFamily: "var(--font)", fontWeight: "600" },
  defaultRadius: 2,
  focusRing: "auto",
  components: {
    Button: Button.extend({
      defaultProps: { size: "sm" },
      // The text of a filled button is set here: the computed white fails on the dark scheme's tide.
      vars: (_theme, { variant = "filled" }) => ({
        root: variant === "filled" ? { "--button-color": "var(--on-tide)" } : {},
      }),
    }),
    Modal: Modal.extend({
      defaultProps: {
        shadow: "none",
        centered: true,
        transitionProps: { duration: 0 },
        closeButtonProps: { "aria-label": "Close" },
      },
    }),
    Drawer: Drawer.extend({
      defaultProps: {
        position: "right",
        shadow: "none",
        transitionProps: { duration: 120 },
        closeButtonProps: { "aria-label": "Close" },
      },
    }),
    Tooltip: Tooltip.extend({
      defaultProps: { events: { hover: true, focus: true, touch: true }, withArrow: false },
    }),
  },
});

const shared = {
  "--mantine-color-body": "var(--ground)",
  "--mantine-color-text": "var(--ink)",
  "--mantine-color-dimmed": "var(--ink-2)",
  "--mantine-color-placeholder": "var(--ink-2)",
  "--mantine-color-anchor": "var(--tide)",
  "--mantine-color-error": "var(--brick)",
  "--mantine-color-default": "var(--ground)",
  "--mantine-color-default-hover": "var(--ground-2)",
  "--mantine-color-default-color": "var(--ink)",
  "--mantine-color-default-border": "var(--edge)",
  "--mantine-color-disabled": "var(--ground-3)",
  "--mantine-color-disabled-color": "var(--ink-2)",
  "--mantine-color-tide-filled": "var(--tide)",
  "--mantine-color-tide-filled-hover": "var(--tide-strong)",
  "--mantine-color-tide-light": "var(--tide-wash)",
  "--mantine-color-tide-light-hover": "var(--tide-wash)",
  "--mantine-color-tide-light-color": "var(--tide)",
  "--mantine-color-tide-text": "var(--tide)",
  "--mantine-color-tide-outline": "var(--tide)",
  "--mantine-primary-color-contrast": "var(--on-tide)",
};

export const variables: CSSVariablesResolver = () => ({
  variables: {},
  light: shared,
  dark: shared,
});
