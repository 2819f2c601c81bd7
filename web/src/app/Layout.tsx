// The frame around the pages: the band at the top (mark, series, account), the episodes above the areas,
// the areas, and the pages of the area. On a phone the areas fold into one list of 48 px rows.
import { Link, Outlet, useLocation, useNavigate } from "@tanstack/react-router";
import { useCallback, useEffect, useRef, useState } from "react";
import { useMe } from "../api/session";
import type { Me } from "../api/types";
import { showInstant } from "../words/dates";
import { type Area, areasFor, inSeries } from "./areas";
import { ConnectionNotice } from "./ConnectionNotice";
import { KeyHelp, useKey } from "./keys";
import styles from "./Layout.module.css";
import { useEpisodes, usePageSearch } from "./series";

function focusFind(): void {
  document.querySelector<HTMLInputElement>("[data-find]")?.focus();
}

export function Layout() {
  const me = useMe();
  const location = useLocation();
  const seriesId = /^\/s\/([^/]+)/.exec(location.pathname)?.[1];
  const series = me.series.find((one) => one.id === seriesId);
  const [help, setHelp] = useState(false);
  useKey(
    "?",
    useCallback(() => setHelp(true), []),
  );
  useKey("/", focusFind);
  return (
    <>
      <a className={styles.skip} href="#main">
        Skip to the page
      </a>
      <ConnectionNotice />
      <header className={`${styles.band} no-print`}>
        <Link to="/" className={styles.mark} aria-label="Waybill: today">
          <Mark />
          <span>Waybill</span>
        </Link>
        <SeriesChoice seriesId={series?.id} />
        <nav className={styles.own} aria-label="Own">
          <button type="button" className={styles.quietButton} onClick={() => setHelp(true)}>
            Keys
          </button>
          <Link to="/account" className={styles.ownLink}>
            {me.user.name}
          </Link>
        </nav>
      </header>
      {series && <Ways series={series} pathname={location.pathname} />}
      <p className="print-only small">
        Waybill{series ? ` · ${series.title}` : ""} · printed{" "}
        {showInstant(new Date().toISOString())}
      </p>
      <main id="main" tabIndex={-1} className={styles.main}>
        <Outlet />
      </main>
      <footer className={styles.foot}>
        Not legal advice. Answers follow what was typed in and the rules shown; counsel and local
        law decide.
      </footer>
      <KeyHelp opened={help} onClose={() => setHelp(false)} />
    </>
  );
}

function Mark() {
  return (
    <svg viewBox="0 0 32 22" width="26" height="18" aria-hidden="true">
      <path d="M2 2h28" stroke="currentColor" strokeWidth="1.5" strokeDasharray="2 2" />
      <path
        d="M4 8l6 11 6-11 6 11 6-11"
        fill="none"
        stroke="currentColor"
        strokeWidth="2.6"
        strokeLinejoin="round"
        strokeLinecap="round"
      />
    </svg>
  );
}

function SeriesChoice({ seriesId }: { seriesId: string | undefined }) {
  const me = useMe();
  const navigate = useNavigate();
  if (me.series.length === 0) return <span className={styles.series} />;
  return (
    <span className={styles.series}>
      <select
        aria-label="Series"
        value={seriesId ?? ""}
        onChange={(event) => {
          const id = event.currentTarget.value;
          if (id) navigate({ to: "/s/$series", params: { series: id } });
          else navigate({ to: "/" });
        }}
      >
        <option value="">All my series</option>
        {me.series.map((one) => (
          <option key={one.id} value={one.id}>
            {one.title}
          </option>
        ))}
      </select>
    </span>
  );
}

function Ways({ series, pathname }: { series: Me["series"][number]; pathname: string }) {
  const seriesId = series.id;
  const areas = areasFor(series.actions);
  const below = pathname.split("/").slice(3);
  const area = areas.find((one) => one.path === (below[0] ?? "")) ?? areas[0];
  const [open, setOpen] = useState(false);
  const opener = useRef<HTMLButtonElement>(null);
  // biome-ignore lint/correctness/useExhaustiveDependencies: the list folds whenever the page changes
  useEffect(() => setOpen(false), [pathname]);
  return (
    <div className={`${styles.ways} no-print`}>
      <Episodes seriesId={seriesId} />
      <button
        ref={opener}
        type="button"
        className={styles.unfold}
        aria-expanded={open}
        aria-controls="ways"
        onClick={() => setOpen(!open)}
        onKeyDown={(event) => event.key === "Escape" && setOpen(false)}
      >
        {placeTitle(area, below)} <span aria-hidden="true">{open ? "▴" : "▾"}</span>
        <span className="visually-hidden">: places in this series</span>
      </button>
      <div id="ways" className={styles.fold} data-open={open || undefined}>
        <nav aria-label="Areas" className={styles.areas}>
          {areas.map((one) => (
            <AreaLinks key={one.name} area={one} current={one === area} seriesId={seriesId} />
          ))}
        </nav>
        {area && area.pages.length > 1 && (
          <nav aria-label={area.name} className={styles.pages}>
            {area.pages.map((page) => (
              <WayLink key={page.to} to={inSeries(seriesId, page.to)}>
                {page.title}
              </WayLink>
            ))}
          </nav>
        )}
      </div>
    </div>
  );
}

function placeTitle(area: Area | undefined, below: string[]): string {
  const page = area?.pages.find((one) => one.to === below.join("/"));
  if (!area) return "Today";
  return page && area.pages.length > 1 ? `${area.name}: ${page.title}` : area.name;
}

/** Keeps the chosen episode while going from area to area. */
function WayLink({ to, children }: { to: string; children: React.ReactNode }) {
  const { episode } = usePageSearch();
  return (
    <Link
      to={to}
      search={episode ? { episode } : {}}
      className={styles.way}
      activeOptions={{ exact: true, includeSearch: false }}
    >
      {children}
    </Link>
  );
}

function AreaLinks({
  area,
  current,
  seriesId,
}: {
  area: Area;
  current: boolean;
  seriesId: string;
}) {
  const { episode } = usePageSearch();
  const first = area.pages[0]?.to ?? "";
  return (
    <div className={styles.area}>
      <Link
        to={inSeries(seriesId, first)}
        search={episode ? { episode } : {}}
        className={styles.areaLink}
        data-current={current || undefined}
      >
        {area.name}
      </Link>
      <div className={styles.areaPages}>
        {area.pages.length > 1 &&
          area.pages.map((page) => (
            <WayLink key={page.to} to={inSeries(seriesId, page.to)}>
              {page.title}
            </WayLink>
          ))}
      </div>
    </div>
  );
}

function Episodes({ seriesId }: { seriesId: string }) {
  // Whoever only receives deliveries is not asked about them.
  const me = useMe();
  const here = me.series.find((one) => one.id === seriesId);
  const may = me.user.is_admin || (here?.actions.includes("view_series") ?? false);
  const { episodes } = useEpisodes(seriesId, may);
  const { episode } = usePageSearch();
  if (episodes.length === 0) return null;
  const chosen = episodes.find((one) => one.id === episode);
  return (
    <nav aria-label="Episodes" className={styles.episodes}>
      <Link
        to="."
        search={(search) => ({ ...search, episode: undefined })}
        className={styles.episode}
        data-current={!chosen || undefined}
        aria-current={chosen ? undefined : "true"}
      >
        All
      </Link>
      {episodes.map((one) => (
        <Link
          key={one.id}
          to="."
          search={(search) => ({ ...search, episode: one.id })}
          className={styles.episode}
          data-current={one === chosen || undefined}
          aria-current={one === chosen ? "true" : undefined}
          title={one.title}
          aria-label={`Episode ${one.number}, ${one.title}`}
        >
          {one.number}
        </Link>
      ))}
      <span className={styles.episodeTitle}>{chosen ? chosen.title : "every episode"}</span>
    </nav>
  );
}
