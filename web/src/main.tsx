// The program's start: theme, server state, router.
import "@fontsource-variable/source-sans-3/wght.css";
import "@mantine/core/styles.css";
import "./tokens.css";
import "./base.css";
import { MantineProvider } from "@mantine/core";
import { QueryClientProvider } from "@tanstack/react-query";
import { RouterProvider } from "@tanstack/react-router";
import { StrictMode } from "react";
import { createRoot } from "react-dom/client";
import { makeQueryClient } from "./app/queryClient";
import { type AppRouter, makeRouter } from "./app/router";
import { schemeManager } from "./app/scheme";
import { theme, variables } from "./theme";
import { ToastHost } from "./ui/Toasts";

const root = document.getElementById("root");
if (!root) throw new Error("the page has no place to start in");

const router: AppRouter = makeRouter(makeQueryClient(() => router));

createRoot(root).render(
  <StrictMode>
    <MantineProvider
      theme={theme}
      cssVariablesResolver={variables}
      colorSchemeManager={schemeManager}
      defaultColorScheme="auto"
    >
      <QueryClientProvider client={router.options.context.queries}>
        <ToastHost>
          <RouterProvider router={router} />
        </ToastHost>
      </QueryClientProvider>
    </MantineProvider>
  </StrictMode>,
);
