// Every address of the pages. A page is one file under pages/{area}/ and one line here; what it shows beside
// its list, its filters and its order stand in the search part (search.ts).
import type { QueryClient } from "@tanstack/react-query";
import {
  createRootRouteWithContext,
  createRoute,
  createRouter,
  lazyRouteComponent,
  Outlet,
  type RouteComponent,
  redirect,
} from "@tanstack/react-router";
import { ApiError } from "../api/client";
import { meQuery } from "../api/session";
import { NoAccess, NoSuchPage, PageFailed } from "./Boundary";
import { Layout } from "./Layout";
import { fetched } from "./pageAway";
import { parseSearch, stringifySearch, validateSearch } from "./search";
import { useSeries } from "./series";

const root = createRootRouteWithContext<{ queries: QueryClient }>()({
  component: Outlet,
  notFoundComponent: NoSuchPage,
  validateSearch,
});

const lazy = <T extends Record<string, unknown>, K extends keyof T>(
  load: () => Promise<T>,
  name: K,
) => lazyRouteComponent(() => fetched(load()), name);

const open = <const P extends string>(path: P, component: RouteComponent) =>
  createRoute({ getParentRoute: () => root, path, component });

const signedOut = [
  open(
    "/sign-in",
    lazy(() => import("../pages/auth/SignIn"), "SignIn"),
  ),
  open(
    "/set-up",
    lazy(() => import("../pages/auth/SetUp"), "SetUp"),
  ),
  open(
    "/forgotten",
    lazy(() => import("../pages/auth/Forgotten"), "Forgotten"),
  ),
  open(
    "/reset",
    lazy(() => import("../pages/auth/Reset"), "Reset"),
  ),
  open(
    "/invitation",
    lazy(() => import("../pages/auth/Invitation"), "Invitation"),
  ),
] as const;

const signedIn = createRoute({
  getParentRoute: () => root,
  id: "signed-in",
  component: Layout,
  beforeLoad: async ({ context, location }) => {
    try {
      await context.queries.ensureQueryData(meQuery);
    } catch (error) {
      if (error instanceof ApiError && error.status === 401) {
        throw redirect({ to: "/sign-in", search: { return: location.href } });
      }
      throw error;
    }
  },
});

const own = <const P extends string>(path: P, component: RouteComponent) =>
  createRoute({ getParentRoute: () => signedIn, path, component });

function SeriesFrame() {
  return useSeries() ? <Outlet /> : <NoAccess />;
}

const series = createRoute({
  getParentRoute: () => signedIn,
  path: "/s/$series",
  component: SeriesFrame,
});

const page = <const P extends string>(path: P, component: RouteComponent) =>
  createRoute({ getParentRoute: () => series, path, component });

const tree = root.addChildren([
  ...signedOut,
  signedIn.addChildren([
    own(
      "/",
      lazy(() => import("../pages/today/Home"), "Home"),
    ),
    own(
      "/account",
      lazy(() => import("../pages/auth/Account"), "Account"),
    ),
    own(
      "/new-series",
      lazy(() => import("../pages/series/NewSeries"), "NewSeries"),
    ),
    own(
      "/organisation/people",
      lazy(() => import("../pages/team/Organisation"), "Organisation"),
    ),
    own(
      "/organisation/mail",
      lazy(() => import("../pages/team/MailQueue"), "MailQueue"),
    ),
    series.addChildren([
      page(
        "/",
        lazy(() => import("../pages/today/SeriesToday"), "SeriesToday"),
      ),
      page(
        "/shoot/days",
        lazy(() => import("../pages/shoot/Days"), "Days"),
      ),
      page(
        "/shoot/places",
        lazy(() => import("../pages/shoot/Places"), "Places"),
      ),
      page(
        "/shoot/people",
        lazy(() => import("../pages/shoot/People"), "People"),
      ),
      page(
        "/shoot/releases",
        lazy(() => import("../pages/shoot/Releases"), "Releases"),
      ),
      page(
        "/footage/find",
        lazy(() => import("../pages/footage/Find"), "Find"),
      ),
      page(
        "/footage/cards",
        lazy(() => import("../pages/footage/Cards"), "Cards"),
      ),
      page(
        "/footage/drives",
        lazy(() => import("../pages/footage/Drives"), "Drives"),
      ),
      page(
        "/footage/copies",
        lazy(() => import("../pages/footage/Keeping"), "Keeping"),
      ),
      page(
        "/footage/what-if",
        lazy(() => import("../pages/footage/WhatIf"), "WhatIf"),
      ),
      page(
        "/footage/labels",
        lazy(() => import("../pages/footage/Labels"), "Labels"),
      ),
      page(
        "/cut/versions",
        lazy(() => import("../pages/cut/Versions"), "Versions"),
      ),
      page(
        "/cut/strip",
        lazy(() => import("../pages/cut/Strip"), "Strip"),
      ),
      page(
        "/cut/scenes",
        lazy(() => import("../pages/cut/Scenes"), "Scenes"),
      ),
      page(
        "/clearance/elements",
        lazy(() => import("../pages/clearance/Elements"), "Elements"),
      ),
      page(
        "/clearance/what-if",
        lazy(() => import("../pages/clearance/WhatIf"), "WhatIf"),
      ),
      page(
        "/clearance/calendar",
        lazy(() => import("../pages/clearance/Calendar"), "Calendar"),
      ),
      page(
        "/clearance/music",
        lazy(() => import("../pages/clearance/Music"), "Music"),
      ),
      page(
        "/clearance/cue-sheet",
        lazy(() => import("../pages/clearance/CueSheet"), "CueSheet"),
      ),
      page(
        "/clearance/captions",
        lazy(() => import("../pages/clearance/Captions"), "Captions"),
      ),
      page(
        "/clearance/imports",
        lazy(() => import("../pages/clearance/Imports"), "Imports"),
      ),
      page(
        "/clearance/costs",
        lazy(() => import("../pages/clearance/Costs"), "Costs"),
      ),
      page(
        "/clearance/budgets",
        lazy(() => import("../pages/clearance/Costs"), "Budgets"),
      ),
      page(
        "/clearance/licences",
        lazy(() => import("../pages/clearance/Licences"), "Licences"),
      ),
      page(
        "/delivery/specifications",
        lazy(() => import("../pages/delivery/Specifications"), "Specifications"),
      ),
      page(
        "/delivery/territories",
        lazy(() => import("../pages/delivery/TerritoryGroups"), "TerritoryGroups"),
      ),
      page(
        "/delivery/showings",
        lazy(() => import("../pages/delivery/Showings"), "Showings"),
      ),
      page(
        "/delivery/deliverables",
        lazy(() => import("../pages/delivery/Deliverables"), "Deliverables"),
      ),
      page(
        "/delivery/papers",
        lazy(() => import("../pages/delivery/Papers"), "Papers"),
      ),
      page(
        "/delivery/issued",
        lazy(() => import("../pages/delivery/Issued"), "Issued"),
      ),
      page(
        "/delivery/report",
        lazy(() => import("../pages/delivery/Report"), "Report"),
      ),
      page(
        "/team/members",
        lazy(() => import("../pages/team/Members"), "Members"),
      ),
      page(
        "/team/episodes",
        lazy(() => import("../pages/series/Episodes"), "Episodes"),
      ),
      page(
        "/team/settings",
        lazy(() => import("../pages/series/Settings"), "Settings"),
      ),
      page(
        "/team/lists",
        lazy(() => import("../pages/sheets/Lists"), "Lists"),
      ),
      page(
        "/team/bring-in",
        lazy(() => import("../pages/sheets/BringIn"), "BringIn"),
      ),
      page(
        "/team/notes",
        lazy(() => import("../pages/team/MyNotes"), "MyNotes"),
      ),
      page(
        "/team/audit",
        lazy(() => import("../pages/team/Audit"), "Audit"),
      ),
    ]),
  ]),
]);

export function makeRouter(queries: QueryClient) {
  return createRouter({
    routeTree: tree,
    context: { queries },
    parseSearch,
    stringifySearch,
    defaultErrorComponent: PageFailed,
    defaultPreload: "intent",
    scrollRestoration: true,
  });
}

export type AppRouter = ReturnType<typeof makeRouter>;

declare module "@tanstack/react-router" {
  interface Register {
    router: AppRouter;
  }
}
