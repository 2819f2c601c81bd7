# shellcheck shell=bash
# Shared by deploy/run and tests/run: says what happens, installs what is missing, finds Rust and
# Node, builds the web part. Sourced by bash from the repository's root; nothing runs by itself.

OLDEST_POSTGRES=15
# What web/package.json's "engines" asks for; the version fetched when the system's is older.
NODE_WANTED=22.23.3
TOOLS=var/tools

say() { printf '%s\n' "$*"; }
step() { printf '\n== %s\n' "$*"; }
die() {
  printf '\n%s\n' "$*" >&2
  exit 1
}
have() { command -v "$1" >/dev/null 2>&1; }

# Runs a command with administrator's rights. Whoever calls it says so first.
as_root() {
  if [ "$(id -u)" = 0 ]; then "$@"; else sudo "$@"; fi
}

APT_UPDATED=
# install PACKAGE…: installs Debian packages, and nothing that they merely recommend.
install() {
  if ! have apt-get; then
    die "Please install these first, by your system's own means: $*"
  fi
  if [ "$(id -u)" != 0 ] && ! have sudo; then
    die "Please ask an administrator to run: apt-get install $*"
  fi
  if [ "$(id -u)" = 0 ]; then
    say "Installing $*"
  else
    say "Installing $* with administrator's rights (sudo may ask for your password)"
  fi
  if [ -z "$APT_UPDATED" ]; then
    as_root apt-get -qq update >/dev/null || say "   the package lists could not be refreshed; trying with the old ones"
    APT_UPDATED=yes
  fi
  local words
  words=$(as_root env DEBIAN_FRONTEND=noninteractive apt-get -qq -y --no-install-recommends install "$@" 2>&1) ||
    die "$words
Installing $* failed: apt-get's own words are above."
}

# Prints the first folder that holds both of PostgreSQL's programs in a usable version.
postgres_folder() {
  local folder version
  for folder in "${WAYBILL_PG_BIN:-}" "$(pg_config --bindir 2>/dev/null)" \
    /usr/lib/postgresql/*/bin /usr/pgsql-*/bin /usr/local/pgsql/bin \
    /opt/homebrew/opt/postgresql*/bin /usr/local/opt/postgresql*/bin; do
    [ -n "$folder" ] && [ -x "$folder/postgres" ] && [ -x "$folder/initdb" ] || continue
    version=$("$folder/postgres" --version | grep -oE '[0-9]+' | head -1)
    if [ "${version:-0}" -ge "$OLDEST_POSTGRES" ]; then
      printf '%s\n' "$folder"
      return
    fi
  done
  return 1
}

# PostgreSQL's programs. Debian's package would also start a server for the whole machine, which
# nobody asked for: it is told not to, and the setting is put back afterwards.
need_postgres() {
  postgres_folder >/dev/null && return
  local settings=/etc/postgresql-common/createcluster.conf before=
  install postgresql-common
  if [ -f $settings ] && ! grep -qE '^create_main_cluster' $settings; then
    before=yes
    as_root sh -c "echo 'create_main_cluster = false' >> $settings"
  fi
  install postgresql
  if [ -n "$before" ]; then
    as_root sed -i '/^create_main_cluster = false$/d' $settings
  fi
  postgres_folder >/dev/null ||
    die "PostgreSQL $OLDEST_POSTGRES or newer is needed, and this system's package is older. Install a newer one, or set WAYBILL_PG_BIN to the folder of its programs."
}

# A C compiler: two of the Rust libraries bring a little C, and Rust links with it.
need_compiler() {
  have cc || install gcc libc6-dev
}

# Rust is the person's own choice (rustup or a package): it is checked, not installed.
need_rust() {
  local wanted found
  wanted=$(sed -n 's/^rust-version = "\(.*\)"/\1/p' Cargo.toml)
  have cargo || PATH="$HOME/.cargo/bin:$PATH"
  have cargo && have rustc ||
    die "Rust $wanted or newer is needed: install it as https://rustup.rs says, open a new terminal, and start this again."
  found=$(rustc --version | awk '{ print $2 }')
  is_at_least "$found" "$wanted" ||
    die "Rust $wanted or newer is needed, and this is $found: run \`rustup update stable\`, then start this again."
}

# is_at_least 1.95.0 1.95
is_at_least() { [ "$(printf '%s\n%s\n' "$1" "$2" | sort -V | head -1)" = "$2" ]; }

node_is_new_enough() {
  have node && have npm || return 1
  local version
  version=$(node --version | tr -d v)
  case $version in
    20.*) is_at_least "$version" 20.19 ;;
    21.*) return 1 ;;
    *) is_at_least "$version" 22.12 ;;
  esac
}

# Node and npm. Where the system's Node is too old for the web tools, a newer one is put into
# var/tools (from the npm registry, so that whatever mirror npm is set to is used); the rest of the
# machine does not see it.
need_node() {
  local arch trusted=/etc/ssl/certs/ca-certificates.crt
  # Node has its own list of authorities; let it trust what the machine trusts.
  if [ -z "${NODE_EXTRA_CA_CERTS:-}" ] && [ -f $trusted ]; then
    export NODE_EXTRA_CA_CERTS=$trusted
  fi
  case $(uname -m) in
    x86_64) arch=x64 ;;
    aarch64 | arm64) arch=arm64 ;;
    *) arch= ;;
  esac
  local own="$PWD/$TOOLS/node_modules/node-linux-$arch/bin"
  [ -x "$own/node" ] && PATH="$own:$PATH"
  node_is_new_enough && return
  have node && have npm || install nodejs npm
  node_is_new_enough && return
  [ -n "$arch" ] && [ "$(uname -s)" = Linux ] ||
    die "Node 20.19 or 22.12 or newer is needed, and this is $(node --version): install a newer one, then start this again."
  say "Node $(node --version) is too old for the web tools; fetching Node $NODE_WANTED into $TOOLS"
  mkdir -p "$TOOLS"
  npm install --loglevel=error --no-audit --no-fund --no-save --ignore-scripts --prefix "$TOOLS" \
    "node-linux-$arch@$NODE_WANTED" || die "Fetching Node failed: see npm's message above."
  PATH="$own:$PATH"
  node_is_new_enough || die "The fetched Node does not run on this machine: install Node 22.12 or newer, then start this again."
}

# checksum FILE…: one line that changes when any of the files changes.
checksum() { cat -- "$@" | cksum; }

# Everything in web/ that a build reads.
web_sources() {
  find web -type d \( -name node_modules -o -name dist \) -prune -o -type f -print | LC_ALL=C sort
}

# The web part's libraries; skipped while the lock file is the one they were installed from.
web_install() {
  local stamp=web/node_modules/.waybill-installed now
  now="$(checksum web/package.json web/package-lock.json) $(node --version)"
  [ -f $stamp ] && [ "$(cat $stamp)" = "$now" ] && return
  (cd web && npm ci --no-audit --no-fund --loglevel=error) || die "npm ci failed in web/: see its message above."
  printf '%s\n' "$now" >$stamp
}

# The built pages in web/dist; skipped while nothing they are built from has changed.
web_build() {
  local stamp=web/node_modules/.waybill-built now files
  mapfile -t files < <(web_sources)
  now=$(checksum "${files[@]}")
  [ -f web/dist/index.html ] && [ -f $stamp ] && [ "$(cat $stamp)" = "$now" ] && return
  (cd web && npm run --silent build -- --logLevel warn) || die "The web part did not build: see the message above."
  printf '%s\n' "$now" >$stamp
}

# Where cargo puts what it builds.
target_folder() {
  cargo metadata --format-version 1 --no-deps --locked | sed -n 's/.*"target_directory":"\([^"]*\)".*/\1/p'
}

# took SECONDS → "2 min 05 s"
took() {
  if [ "$1" -ge 60 ]; then printf '%d min %02d s' $(($1 / 60)) $(($1 % 60)); else printf '%d s' "$1"; fi
}
