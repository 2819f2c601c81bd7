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
import { parseSearch, stringifySearch, validateSearch } from "./search";
import { useSeries } from "./series";

const root = createRootRouteWithContext<{ queries: QueryClient }>()({
  component: Outlet,
  notFoundComponent: NoSuchPage,
  validateSearch,
});

const open = <const P extends string>(path: P, component: RouteComponent) =>
  createRoute({ getParentRoute: () => root, path, component });

const signedOut = [
  open(
    "/sign-in",
    lazyRouteComponent(() => import("../pages/auth/SignIn"), "SignIn"),
  ),
  open(
    "/set-up",
    lazyRouteComponent(() => import("../pages/auth/SetUp"), "SetUp"),
  ),
  open(
    "/forgotten",
    lazyRouteComponent(() => import("../pages/auth/Forgotten"), "Forgotten"),
  ),
  open(
    "/reset",
    lazyRouteComponent(() => import("../pages/auth/Reset"), "Reset"),
  ),
  open(
    "/invitation",
    lazyRouteComponent(() => import("../pages/auth/Invitation"), "Invitation"),
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
      lazyRouteComponent(() => import("../pages/today/Home"), "Home"),
    ),
    own(
      "/account",
      lazyRouteComponent(() => import("../pages/auth/Account"), "Account"),
    ),
    own(
      "/new-series",
      lazyRouteComponent(() => import("../pages/series/NewSeries"), "NewSeries"),
    ),
    own(
      "/organisation/people",
      lazyRouteComponent(() => import("../pages/team/Organisation"), "Organisation"),
    ),
    own(
      "/organisation/mail",
      lazyRouteComponent(() => import("../pages/team/MailQueue"), "MailQueue"),
    ),
    series.addChildren([
      page(
        "/",
        lazyRouteComponent(() => import("../pages/today/SeriesToday"), "SeriesToday"),
      ),
      page(
        "/shoot/days",
        lazyRouteComponent(() => import("../pages/shoot/Days"), "Days"),
      ),
      page(
        "/shoot/places",
        lazyRouteComponent(() => import("../pages/shoot/Places"), "Places"),
      ),
      page(
        "/shoot/people",
        lazyRouteComponent(() => import("../pages/shoot/People"), "People"),
      ),
      page(
        "/shoot/releases",
        lazyRouteComponent(() => import("../pages/shoot/Releases"), "Releases"),
      ),
      page(
        "/footage/find",
        lazyRouteComponent(() => import("../pages/footage/Find"), "Find"),
      ),
      page(
        "/footage/cards",
        lazyRouteComponent(() => import("../pages/footage/Cards"), "Cards"),
      ),
      page(
        "/footage/drives",
        lazyRouteComponent(() => import("../pages/footage/Drives"), "Drives"),
      ),
      page(
        "/footage/copies",
        lazyRouteComponent(() => import("../pages/footage/Keeping"), "Keeping"),
      ),
      page(
        "/footage/what-if",
        lazyRouteComponent(() => import("../pages/footage/WhatIf"), "WhatIf"),
      ),
      page(
        "/footage/labels",
        lazyRouteComponent(() => import("../pages/footage/Labels"), "Labels"),
      ),
      page(
        "/cut/versions",
        lazyRouteComponent(() => import("../pages/cut/Versions"), "Versions"),
      ),
      page(
        "/cut/strip",
        lazyRouteComponent(() => import("../pages/cut/Strip"), "Strip"),
      ),
      page(
        "/cut/scenes",
        lazyRouteComponent(() => import("../pages/cut/Scenes"), "Scenes"),
      ),
      page(
        "/clearance/elements",
        lazyRouteComponent(() => import("../pages/clearance/Elements"), "Elements"),
      ),
      page(
        "/clearance/what-if",
        lazyRouteComponent(() => import("../pages/clearance/WhatIf"), "WhatIf"),
      ),
      page(
        "/clearance/calendar",
        lazyRouteComponent(() => import("../pages/clearance/Calendar"), "Calendar"),
      ),
      page(
        "/clearance/music",
        lazyRouteComponent(() => import("../pages/clearance/Music"), "Music"),
      ),
      page(
        "/clearance/cue-sheet",
        lazyRouteComponent(() => import("../pages/clearance/CueSheet"), "CueSheet"),
      ),
      page(
        "/clearance/captions",
        lazyRouteComponent(() => import("../pages/clearance/Captions"), "Captions"),
      ),
      page(
        "/clearance/imports",
        lazyRouteComponent(() => import("../pages/clearance/Imports"), "Imports"),
      ),
      page(
        "/clearance/costs",
        lazyRouteComponent(() => import("../pages/clearance/Costs"), "Costs"),
      ),
      page(
        "/clearance/budgets",
        lazyRouteComponent(() => import("../pages/clearance/Costs"), "Budgets"),
      ),
      page(
        "/clearance/licences",
        lazyRouteComponent(() => import("../pages/clearance/Licences"), "Licences"),
      ),
      page(
        "/delivery/specifications",
        lazyRouteComponent(() => import("../pages/delivery/Specifications"), "Specifications"),
      ),
      page(
        "/delivery/territories",
        lazyRouteComponent(() => import("../pages/delivery/TerritoryGroups"), "TerritoryGroups"),
      ),
      page(
        "/delivery/showings",
        lazyRouteComponent(() => import("../pages/delivery/Showings"), "Showings"),
      ),
      page(
        "/delivery/deliverables",
        lazyRouteComponent(() => import("../pages/delivery/Deliverables"), "Deliverables"),
      ),
      page(
        "/delivery/papers",
        lazyRouteComponent(() => import("../pages/delivery/Papers"), "Papers"),
      ),
      page(
        "/delivery/issued",
        lazyRouteComponent(() => import("../pages/delivery/Issued"), "Issued"),
      ),
      page(
        "/delivery/report",
        lazyRouteComponent(() => import("../pages/delivery/Report"), "Report"),
      ),
      page(
        "/team/members",
        lazyRouteComponent(() => import("../pages/team/Members"), "Members"),
      ),
      page(
        "/team/episodes",
        lazyRouteComponent(() => import("../pages/series/Episodes"), "Episodes"),
      ),
      page(
        "/team/settings",
        lazyRouteComponent(() => import("../pages/series/Settings"), "Settings"),
      ),
      page(
        "/team/lists",
        lazyRouteComponent(() => import("../pages/sheets/Lists"), "Lists"),
      ),
      page(
        "/team/bring-in",
        lazyRouteComponent(() => import("../pages/sheets/BringIn"), "BringIn"),
      ),
      page(
        "/team/notes",
        lazyRouteComponent(() => import("../pages/team/MyNotes"), "MyNotes"),
      ),
      page(
        "/team/audit",
        lazyRouteComponent(() => import("../pages/team/Audit"), "Audit"),
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
