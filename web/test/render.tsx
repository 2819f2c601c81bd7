// Renders a piece with what the pages have around them: theme, server state, toasts, a router in memory.
import { MantineProvider } from "@mantine/core";
import { QueryClient, QueryClientProvider } from "@tanstack/react-query";
import {
  createMemoryHistory,
  createRootRoute,
  createRouter,
  RouterProvider,
} from "@tanstack/react-router";
import { render } from "@testing-library/react";
import { parseSearch, stringifySearch, validateSearch } from "../src/app/search";
import { theme, variables } from "../src/theme";
import { ToastHost } from "../src/ui/Toasts";

export async function renderPiece(piece: React.ReactNode, address = "/") {
  const root = createRootRoute({ component: () => piece, validateSearch });
  const router = createRouter({
    routeTree: root,
    history: createMemoryHistory({ initialEntries: [address] }),
    parseSearch,
    stringifySearch,
  });
  await router.load();
  const queries = new QueryClient({ defaultOptions: { queries: { retry: false } } });
  const view = render(
    <MantineProvider theme={theme} cssVariablesResolver={variables} env="test">
      <QueryClientProvider client={queries}>
        <ToastHost>
          <RouterProvider router={router as never} />
        </ToastHost>
      </QueryClientProvider>
    </MantineProvider>,
  );
  return { ...view, router };
}
