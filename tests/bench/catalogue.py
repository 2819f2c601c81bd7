"""What the benches of the catalogue share: a server of their own, drives of generated files, and times.

The server keeps its own private PostgreSQL in a temporary folder. Programs: WAYBILL_PROGRAMS, or target/deploy.
"""
import hashlib, http.client, json, os, pathlib, re, shutil, socket, subprocess, sys, tempfile, time, uuid

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROGRAMS = pathlib.Path(os.environ.get("WAYBILL_PROGRAMS", ROOT / "target/deploy"))
CHUNK = 2000
PICTURE = {"MXF": "mxf", "MOV": "quick_time", "MP4": "mp4"}


def load():
    return "load " + " ".join(f"{value:.1f}" for value in os.getloadavg())


def say(words, seconds=None, rest=""):
    print(f"{words:66}" + (f" {seconds:8.2f} s" if seconds is not None else "") + f"  {rest}", flush=True)


class Timer:
    def __enter__(self):
        self.start = time.monotonic()
        return self

    def __exit__(self, *_):
        self.seconds = time.monotonic() - self.start


def made(files, seed):
    """The folder of what the generator wrote; kept between runs."""
    folder = pathlib.Path(tempfile.gettempdir()) / f"waybill-bench-{files}-{seed}"
    if not (folder / "drives.tsv").exists():
        making = folder.with_suffix(".making")
        for old in (folder, making):
            shutil.rmtree(old, ignore_errors=True)
        script = ROOT / "tests/bench/gen_paths.py"
        subprocess.run([sys.executable, script, str(files), making, str(seed)], check=True, stdout=subprocess.DEVNULL)
        making.rename(folder)
    return folder


def generated(files, seed=7):
    """Rows of drive, path, size, time and hash."""
    with open(made(files, seed) / "files.tsv", encoding="utf-8") as lines:
        for line in lines:
            drive, path, size, mtime, digest = line.rstrip("\n").split("\t")
            yield int(drive), path, int(size), mtime.replace(" ", "T").replace("+00", "Z"), digest


def labels(files, seed=7):
    """The label of each drive."""
    with open(made(files, seed) / "drives.tsv", encoding="utf-8") as lines:
        return {int(number): label for number, label in (line.rstrip("\n").split("\t") for line in lines)}


def entry(path, size, modified, digest, read="2026-11-01T12:00:00Z"):
    """A file as `waybill scan` tells of it; pictures with facts as from a header."""
    row = {"path": path, "size": size, "modified": modified, "read": read, "hashes": {"xxh128": digest}}
    kind = PICTURE.get(path[-1].rsplit(".", 1)[-1])
    if kind:
        frames = 25 * (10 + int(digest[:4], 16) % 600)
        start = int(digest[4:9], 16) % 2_000_000
        row["media"] = {
            "container": kind, "duration": {"num": frames, "den": 25}, "frame_count": frames,
            "rate": {"num": 25, "den": 1},
            "start": {"label": "10:00:00:00", "frame": start, "rate": {"num": 25, "den": 1}, "drop": False},
            "width": 1920, "height": 1080, "codec": "avc1"}
    return row


class Server:
    """A running server with an administrator and a series."""

    def __init__(self):
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="waybill-bench-server-"))
        self.folder.chmod(0o755)
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self.url = f"http://localhost:{self.port}"
        self.env = dict(
            os.environ, WAYBILL_LISTEN=f"127.0.0.1:{self.port}", WAYBILL_URL=self.url, WAYBILL_LOG="warn",
            WAYBILL_VAR=str(self.folder / "var"), WAYBILL_WEB=str(self.folder), WAYBILL_STATE=str(self.folder / "state"))
        log = open(self.folder / "log", "w")
        self.child = subprocess.Popen([PROGRAMS / "waybill-server", "serve"], env=self.env, stdout=log, stderr=log)
        self.headers = {"X-Waybill": "1", "Content-Type": "application/json"}
        self.used = time.monotonic()
        for _ in range(900):
            found = re.search(r"/set-up#(\S+)", (self.folder / "log").read_text())
            if found:
                break
            if self.child.poll() is not None:
                raise SystemExit((self.folder / "log").read_text())
            time.sleep(0.1)
        else:
            raise SystemExit("the server did not start:\n" + (self.folder / "log").read_text())
        for _ in range(300):
            try:
                self.wire = http.client.HTTPConnection("127.0.0.1", self.port, timeout=900)
                self.wire.connect()
                break
            except OSError:
                time.sleep(0.1)
        token = found.group(1)
        self.ask("POST", "/api/setup", {
            "token": token, "organisation": "Breakwater Films", "name": "Ada Admin",
            "email": "ada@breakwater.example", "password": "a long harbour wall 4711"})
        made = self.ask("POST", "/api/me/device-tokens", {"label": "bench"})
        self.env["WAYBILL_TOKEN"] = made["token"]
        self.series = self.ask("POST", "/api/series", {
            "title": "Harbour Season", "producer_entity": "Breakwater Films Ltd", "zone": "Europe/London",
            "roll_pattern": "{date:YYYYMMDD}_{card}_{camera}_{words}", "frame_rate": "25", "adult_at": 18,
            "consideration_required": True, "holidays": []})["id"]
        self.base = f"/api/series/{self.series}"
        self.address = self.psql_address()

    def ask(self, method, path, body=None, raw=None):
        sent = raw if raw is not None else (json.dumps(body).encode() if body is not None else None)
        headers = dict(self.headers, **({"Content-Type": "application/x-ndjson"} if raw is not None else {}))
        if time.monotonic() - self.used > 3:
            # the server closes what is idle; a closed connection opens itself again
            self.wire.close()
        self.wire.request(method, path, sent, headers)
        reply = self.wire.getresponse()
        text = reply.read()
        self.used = time.monotonic()
        cookie = reply.getheader("set-cookie")
        if cookie:
            self.headers["Cookie"] = cookie.split(";")[0]
        if reply.status >= 400:
            raise SystemExit(f"{method} {path}: {reply.status} {text[:2000].decode()}")
        return json.loads(text) if text[:1] in (b"{", b"[") else text

    def timed(self, path, times=5):
        """Milliseconds of each GET, sorted, and the size of the answer."""
        took, size = [], 0
        for _ in range(times):
            self.wire.close()
            with Timer() as timer:
                self.wire.request("GET", path, None, self.headers)
                reply = self.wire.getresponse()
                size = len(reply.read())
            if reply.status != 200:
                raise SystemExit(f"{path}: {reply.status}")
            took.append(timer.seconds * 1000)
        return sorted(took), size

    def psql_address(self):
        for line in open("/proc/net/unix"):
            path = line.split()[-1]
            if path.endswith("/.s.PGSQL.5432") and self.owns(path):
                return f"postgresql://waybill@/waybill?host={os.path.dirname(path)}"
        raise SystemExit("where is the private PostgreSQL?")

    def owns(self, path):
        lock = pathlib.Path(path + ".lock")
        try:
            pid = int(lock.read_text().split("\n")[0])
            parent = int(pathlib.Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[1])
        except (OSError, ValueError):
            return False
        return parent == self.child.pid

    def psql(self, *words, text=None):
        command = ["psql", "-X", "-q", "-At", "-v", "ON_ERROR_STOP=1", self.address]
        for word in words:
            command += ["-c", word]
        done = subprocess.run(command, input=text, capture_output=True, text=True)
        if done.returncode:
            raise SystemExit(f"psql: {done.stderr}")
        return done.stdout.strip()

    def send(self, label, entries):
        """A scan of a drive; the bodies are made before the clock starts. Seconds of the chunks and of the end."""
        bodies = chunks(entries)
        count = sum(body.count(b"\n") for body in bodies)
        scan = str(uuid.uuid4())
        with Timer() as taking:
            self.ask("POST", f"{self.base}/scans", {
                "id": scan, "drive": label, "root": label, "tool": "bench 1", "hashes": ["xxh128"],
                "started": "2026-11-01T12:00:00Z", "file_count": count})
            digests = []
            for number, body in enumerate(bodies):
                digests.append(hashlib.sha256(body).hexdigest())
                self.ask("PUT", f"{self.base}/scans/{scan}/chunks/{number}?digest={digests[-1]}", raw=body)
        with Timer() as ending:
            whole = hashlib.sha256("".join(digests).encode()).hexdigest()
            self.ask("POST", f"{self.base}/scans/{scan}/complete", {"files": count, "digest": whole})
        return taking.seconds, ending.seconds

    def stop(self):
        self.child.terminate()
        self.child.wait()
        # as root, the database lies where its own user may enter
        pointer = self.folder / "var/pg/location"
        if pointer.exists():
            shutil.rmtree(pointer.read_text().strip(), ignore_errors=True)
        shutil.rmtree(self.folder, ignore_errors=True)


def chunks(entries):
    lines = [json.dumps(row, ensure_ascii=False, separators=(",", ":")).encode() + b"\n" for row in entries]
    return [b"".join(lines[at:at + CHUNK]) for at in range(0, len(lines), CHUNK)]
