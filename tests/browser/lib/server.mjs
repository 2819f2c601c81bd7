// The real server with its own private PostgreSQL in a temporary folder, on a free port.
import { execFile, spawn } from "node:child_process";
import { chmodSync, existsSync, mkdtempSync, readdirSync, readFileSync, rmSync } from "node:fs";
import { createServer } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { promisify } from "node:util";
import { until } from "./runner.mjs";

const run = promisify(execFile);
const ROOT = new URL("../../../", import.meta.url).pathname;
const PROGRAMS = process.env.WAYBILL_PROGRAMS ?? join(ROOT, "target/debug");
const WEB = process.env.WAYBILL_WEB ?? join(ROOT, "web/dist");

export const program = (name) => join(PROGRAMS, name);

export class Server {
  constructor(folder, port) {
    this.folder = folder;
    this.port = port;
    this.url = `http://localhost:${port}`;
    this.log = "";
  }

  static async make() {
    for (const needed of [program("waybill-server"), program("waybill"), join(WEB, "index.html")]) {
      if (!existsSync(needed)) throw new Error(`${needed} is missing: build it first (tests/run browser does)`);
    }
    const folder = mkdtempSync(join(tmpdir(), "waybill-browser-"));
    // PostgreSQL runs as an unprivileged user when this runs as root, and must get in.
    chmodSync(folder, 0o755);
    return new Server(folder, await freePort());
  }

  get environment() {
    const { PATH, HOME, LANG } = process.env;
    return {
      PATH,
      HOME: HOME ?? this.folder,
      LANG: LANG ?? "C.UTF-8",
      WAYBILL_LISTEN: `127.0.0.1:${this.port}`,
      WAYBILL_URL: this.url,
      WAYBILL_VAR: join(this.folder, "var"),
      WAYBILL_WEB: WEB,
      WAYBILL_LOG: "warn",
    };
  }

  /** Starts it; answers what it printed until it listened. */
  async start() {
    this.log = "";
    const child = spawn(program("waybill-server"), ["serve"], { cwd: this.folder, env: this.environment });
    this.child = child;
    this.ended = new Promise((done) => child.once("exit", done));
    child.stdout.on("data", (text) => (this.log += text));
    child.stderr.on("data", (text) => (this.log += text));
    await until(
      "the server",
      async () => {
        if (child.exitCode !== null) throw new Error(`the server ended at its start:\n${this.log}`);
        return fetch(`${this.url}/api/health`).then((answer) => answer.ok, () => false);
      },
      90_000,
    );
    return this.log;
  }

  /** The one-time link for the first administrator. */
  async setUpLink() {
    const found = await until("the set-up link", () => /http\S+\/set-up#\S+/.exec(this.log));
    return found[0];
  }

  async stop() {
    if (this.child?.exitCode === null) this.child.kill("SIGTERM");
    await this.ended;
  }

  async remove() {
    await this.stop();
    rmSync(this.folder, { recursive: true, force: true });
  }

  /** The server's own program with another command; it must not serve meanwhile. */
  async command(...words) {
    const { stdout } = await run(program("waybill-server"), words, { cwd: this.folder, env: this.environment });
    return stdout;
  }

  /** The text of the first mail to somebody that has the words in it. */
  async mail(to, words) {
    const box = join(this.folder, "var/mail");
    return until(`a mail to ${to}`, () => {
      if (!existsSync(box)) return null;
      // A mail is written under another name first, and may be renamed between the two reads.
      const names = readdirSync(box).filter((name) => name.endsWith(".eml"));
      const mails = names.map((name) => readFileSync(join(box, name), "utf8"));
      return mails.map(readable).find((mail) => mail.includes(to) && mail.includes(words));
    });
  }
}

/** Quoted-printable (RFC 2045 6.7) undone, as far as links need it. */
const readable = (mail) =>
  mail.replace(/=\r?\n/g, "").replace(/=([0-9A-F]{2})/g, (_, hex) => String.fromCharCode(parseInt(hex, 16)));

/** The drive command as a person runs it. */
export async function waybill(server, words, env = {}) {
  const { stdout } = await run(program("waybill"), words, {
    env: { ...server.environment, WAYBILL_STATE: join(server.folder, "state"), ...env },
  });
  return stdout;
}

function freePort() {
  return new Promise((found, failed) => {
    const probe = createServer().once("error", failed);
    probe.listen(0, "127.0.0.1", () => {
      const { port } = probe.address();
      probe.close(() => found(port));
    });
  });
}
