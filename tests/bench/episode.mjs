// An invented episode of any size, put into a running server: imports, music and people with their papers, and a cut
// that uses all of them. The same number makes the same episode.
import { execFile } from "node:child_process";
import { readdirSync } from "node:fs";
import { join } from "node:path";
import { promisify } from "node:util";

const run = promisify(execFile);

export const NEED = { from: "2030-01-01", to: "2049-12-31" };
export const COUNTRIES = ["GB", "IE", "FR", "DE", "NL", "BE", "DK", "SE", "NO", "FI", "PL", "CZ", "AT", "CH", "IT", "ES"];
const MEDIA = ["television.free", "television.pay", "on_demand", "on_demand.catch_up", "cinema", "festival", "online"];

/** A small generator of numbers (xorshift), so that every run has the same episode. */
function dice(seed) {
  let state = seed;
  return (sides) => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return (state >>> 0) % sides;
  };
}

/** Talks to the server as one person. */
export class Api {
  constructor(url) {
    this.url = url;
  }

  async send(method, path, body, headers = {}) {
    const text = typeof body === "string" || body instanceof Uint8Array;
    const answer = await fetch(this.url + path, {
      method,
      body: body === undefined || text ? body : JSON.stringify(body),
      headers: { "content-type": "application/json", "x-waybill": "1", cookie: this.cookie ?? "", ...headers },
    });
    if (!answer.ok) throw new Error(`${method} ${path}: ${answer.status} ${(await answer.text()).slice(0, 600)}`);
    return answer;
  }

  async json(method, path, body, headers) {
    return (await this.send(method, path, body, headers)).json();
  }

  async setUp(link) {
    const body = {
      token: link.split("#")[1],
      organisation: "Low Water Pictures",
      name: "Ines Calloway",
      email: "ines@harbour.example",
      password: "four tides and a bell",
    };
    const answer = await this.send("POST", "/api/setup", body);
    this.cookie = answer.headers.getSetCookie()[0].split(";")[0];
  }
}

/** Runs tasks, some at a time. */
async function all(tasks, atOnce = 6) {
  const out = new Array(tasks.length);
  let next = 0;
  const worker = async () => {
    while (next < tasks.length) {
      const at = next++;
      out[at] = await tasks[at]();
    }
  };
  await Promise.all(Array.from({ length: atOnce }, worker));
  return out;
}

/** The server's own PostgreSQL, asked by psql. */
export function psql(server) {
  const found = readdirSync(join(server.folder, "var"), { recursive: true }).find((path) => path.includes(".s.PGSQL."));
  if (!found) throw new Error("the server's PostgreSQL has no socket under its folder");
  const host = join(server.folder, "var", found, "..");
  return async (sql, ...words) => {
    const commands = [sql].flat().flatMap((one) => ["-c", one]);
    const { stdout } = await run("psql", ["-h", host, "-U", "waybill", "-XqAt", ...words, ...commands, "waybill"], {
      maxBuffer: 1 << 30,
    });
    return stdout;
  };
}

function grant(roll) {
  const some = (list, most) => {
    const from = roll(list.length);
    return Array.from({ length: 1 + roll(most) }, (_, at) => list[(from + at) % list.length]);
  };
  const world = roll(4) < 3;
  const territories = world ? ["WORLD"] : [...new Set(some(COUNTRIES, 6))];
  const starts = ["2028-01-01", "2029-06-15", "2030-01-01", "2031-03-01"][roll(8) < 6 ? 0 : 1 + roll(3)];
  const term = [
    "perpetuity",
    { to: `20${40 + roll(12)}-06-30` },
    { months: 60 + 12 * roll(20) },
    { to: "2049-12-31" },
  ][roll(10) < 6 ? 0 : roll(4)];
  return {
    territories,
    territories_except: world && roll(4) === 0 ? [...new Set(some(COUNTRIES, 2))] : [],
    media: roll(4) < 3 ? ["all"] : [...new Set(some(MEDIA, 3))],
    media_except: [],
    starts,
    term,
    counting: "including",
  };
}

const grants = (count, roll) => Array.from({ length: count }, () => grant(roll));

const licence = (what, id, side, list) => ({
  asset_id: null,
  music_id: null,
  [what]: id,
  side,
  licensor: "Quay Archive",
  reference: "",
  status: "signed",
  signed_on: "2026-01-01",
  grants: list,
  fee_minor: null,
  payment_due: null,
  allows_promotion: true,
  document_id: null,
});

const release = (id, list) => ({
  kind: "appearance",
  person_id: id,
  place_id: null,
  asset_id: null,
  status: "ok",
  signed_by: "self",
  signed_on: "2026-03-14",
  filmed_from: null,
  filmed_to: null,
  entity: "Low Water Pictures Ltd",
  consideration: "1 GBP",
  allows_editing: true,
  allows_promotion: true,
  grants: list,
  restrictions: [],
  withdrawal: null,
  document_id: null,
});

function timecode(frames) {
  const part = (n) => String(n).padStart(2, "0");
  return [Math.floor(frames / 90_000), Math.floor(frames / 1500) % 60, Math.floor(frames / 25) % 60, frames % 25].map(part).join(":");
}

/** Puts an episode with so many elements and events into the server; what is needed to ask about it. */
export async function makeEpisode(api, sql, elements, events) {
  const roll = dice(elements * 7919 + events);
  const series = (
    await api.json("POST", "/api/series", {
      title: `Harbour ${elements}`,
      producer_entity: "Low Water Pictures Ltd",
      zone: "Europe/London",
      roll_pattern: "{date:YYYYMMDD}_{card}_{camera}_{words}",
      frame_rate: "25",
      adult_at: 18,
      consideration_required: true,
      holidays: [],
      shoot_from: "2028-03-01",
      shoot_to: "2028-09-30",
    })
  ).id;
  const at = (path) => `/api/series/${series}/${path}`;
  const create = async (kind, body) => (await api.json("POST", at(kind), body)).id;
  const episode = await create("episodes", {
    number: 1,
    title: "High Water",
    status: "cutting",
    slot_seconds: null,
    first_transmission: "2030-01-01",
    first_transmission_planned: null,
    delivered: null,
    delivery_planned: null,
    first_use: null,
  });
  await create("specifications", {
    name: "All rights",
    broadcaster: "Northern Channel",
    edition: "1",
    territories: ["WORLD"],
    media: ["all"],
    needed_from: NEED.from,
    needed_to: NEED.to,
  });
  const people = Math.round(elements * 0.35);
  const music = Math.round(elements * 0.2);
  const assets = elements - people - music;
  const asked = []; // what stands behind each element, for the count by hand
  const name = (word, n) => `${word} ${String(n).padStart(5, "0")}`;

  // Records by one list each: the way in which teams bring in so many.
  const bringIn = async (kind, heading, rows) => {
    const list = `${heading}\n${rows.join("\n")}\n`;
    const sent = await api.json("POST", at(`sheets?kind=${kind}&name=list.csv`), list, { "content-type": "application/octet-stream" });
    const preview = await api.json("POST", at(`sheets/${sent.id}/preview`), { ask: {}, show: {} });
    await api.json("POST", at(`sheets/${sent.id}/import`), { ask: {}, fingerprint: preview.fingerprint });
    const ids = JSON.parse(await sql(`select json_agg(id order by id) from ${kind} where series_id = '${series}'`));
    if (ids.length !== rows.length) throw new Error(`${kind}: ${ids.length} of ${rows.length}`);
    return ids;
  };
  const numbers = (count) => Array.from({ length: count }, (_, n) => n);
  const assetIds = await bringIn(
    "assets",
    "Title,Class,Ground,Names in the cut",
    numbers(assets).map((n) => `${name("Newsreel", n)},archive,licensed,NEWS_${n}.MOV`),
  );
  const musicIds = await bringIn(
    "music",
    "Title,Origin,Names in the cut",
    numbers(music).map((n) => `${name("Song", n)},commercial,SONG_${n}.WAV`),
  );
  const peopleIds = await bringIn(
    "people",
    "Name as credited,Date of birth",
    numbers(people).map((n) => `${name("Person", n)},1980-02-01`),
  );
  const papers = [];
  const stands = (id, needs, kind, body) => {
    papers.push(async () => {
      const paper = await create(kind, body);
      asked.push({ element: id, needs, kind, paper, body });
    });
  };
  for (const id of assetIds) stands(id, "whole", "licences", licence("asset_id", id, "whole", grants(4, roll)));
  for (const id of musicIds) {
    stands(id, "composition", "licences", licence("music_id", id, "composition", grants(2, roll)));
    stands(id, "recording", "licences", licence("music_id", id, "recording", grants(2, roll)));
  }
  for (const [n, id] of peopleIds.entries()) {
    stands(id, "whole", "releases", release(id, grants(n < people * 0.29 ? 4 : 3, roll)));
  }
  await all(papers);

  const card = await create("cards", {
    name: "20280314_A003_CAMB_SLIPWAY",
    camera: "CAMB",
    number: "A003",
    shoot_day_id: null,
    shot_on: "2028-03-14",
    state: "offloading",
    wiped_on: null,
  });
  const files = Math.max(1, Math.ceil(people / 2));
  await sql(
    `insert into files (id, series_id, card_id, name, stem, size, xxh128, hashes, kind, reel, rate_num, rate_den, drop_frame,
       start_frame, frame_count, created_at)
     select gen_random_uuid(), '${series}', '${card}', 'A003C' || n || '.MOV', 'a003c' || n, 1000 + n, md5(n::text), '{}',
       'picture', '', 25, 1, false, 900000, 15000, '2028-03-14T18:00:00Z' from generate_series(0, ${files - 1}) n;
     insert into log_entries (id, series_id, file_id, kind, person_id, presence, face, named_on_screen, note, voice_changed,
       version, created_at, updated_at)
     select gen_random_uuid(), f.series_id, f.id, 'person', p.id, 'on_camera', 'shown', false, '', false, 1, now(), now()
     from (select id, (row_number() over (order by id) - 1) / 2 as n from people where series_id = '${series}') p
     join files f on f.series_id = '${series}' and f.stem = 'a003c' || p.n;
     analyze`,
  );

  const lines = ["TITLE: EP01 HIGH WATER", "FCM: NON-DROP FRAME", ""];
  const sources = [
    ...numbers(assets).map((n) => [`NEWS_${n}.MOV`, "V", 0]),
    ...numbers(music).map((n) => [`SONG_${n}.WAV`, "A", 0]),
    ...numbers(files).map((n) => [`A003C${n}.MOV`, "V", 900_000]),
  ];
  const length = 45; // 3,000 of them are 90 minutes at 25 frames
  for (let n = 0; n < events; n++) {
    const [clip, track, zero] = sources[n % sources.length];
    const source = zero + Math.floor(n / sources.length) * 50;
    const record = 90_000 + n * length;
    const code = [source, source + length, record, record + length].map(timecode).join(" ");
    lines.push(`${String(n + 1).padStart(5, "0")}  AX       ${track}     C        ${code}`, `* FROM CLIP NAME: ${clip}`);
  }
  const cut = await api.json("POST", at(`episodes/${episode}/cuts?name=EP01_CUT_v1&file=cut.edl`), `${lines.join("\n")}\n`, {
    "content-type": "text/plain",
  });
  return { series, episode, cut: cut.id, asked, people, at };
}
