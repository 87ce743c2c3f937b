# shellcheck shell=bash
# shellcheck disable=SC2034 # the scripts that source this use the variables
# Shared by the scripts beside it: where the repository is, what the machine has, what it still needs.

ROOT=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
TARGET=${CARGO_TARGET_DIR:-$ROOT/target}
RUST_MIN_MINOR=90
LOCK_WAIT_S=600
BUILD_PACKAGES=(build-essential pkg-config libgdal-dev libsqlite3-dev fonts-dejavu-core)
export PATH="${CARGO_HOME:-$HOME/.cargo}/bin:$PATH"

say() { printf '==> %s\n' "$*"; }

fail() {
  printf '%s: %s\n' "$(basename "$0")" "$*" >&2
  exit 1
}

as_root() {
  if [ "$(id -u)" -eq 0 ]; then
    "$@"
  elif command -v sudo >/dev/null; then
    sudo "$@"
  else
    fail "needs root for: $*. Run it as root, or install sudo."
  fi
}

installed() { [ "$(dpkg-query -W -f '${db:Status-Status}' "$1" 2>/dev/null)" = installed ]; }

# Runs apt-get; where another program holds its locks it waits. apt-get waits for the locks of dpkg by itself and fails at
# once at the lock of the package lists, so that is asked for again.
apt_get() {
  local told=$SECONDS until=$((SECONDS + LOCK_WAIT_S)) said
  while ! said=$(as_root env LC_ALL=C DEBIAN_FRONTEND=noninteractive apt-get -qq -o "DPkg::Lock::Timeout=$LOCK_WAIT_S" "$@" 2>&1 >/dev/null); do
    if [[ $said != *"Could not get lock"* ]] || [ "$SECONDS" -ge "$until" ]; then
      fail "apt-get $1 failed: $said"
    fi
    if [ "$SECONDS" -ge "$told" ]; then
      say "another program is installing packages; waiting for it"
      told=$((SECONDS + 60))
    fi
    sleep 2
  done
}

# Installs those of the named Debian packages that are missing, and nothing else.
need_packages() {
  local missing=() package
  command -v dpkg-query >/dev/null || fail "this is not Debian; install by hand what Debian calls: $*"
  for package in "$@"; do
    installed "$package" || missing+=("$package")
  done
  if [ ${#missing[@]} -eq 0 ]; then
    return
  fi
  say "installing Debian packages: ${missing[*]}"
  apt_get update
  apt_get install -y --no-install-recommends "${missing[@]}"
}

# True when a version such as 1.95.0 or 1.63.0+dfsg1 is at least 1.RUST_MIN_MINOR.
new_enough() {
  local major=${1%%.*} rest=${1#*.}
  local minor=${rest%%.*}
  [[ $major =~ ^[0-9]+$ && $minor =~ ^[0-9]+$ ]] && { [ "$major" -gt 1 ] || { [ "$major" -eq 1 ] && [ "$minor" -ge "$RUST_MIN_MINOR" ]; }; }
}

rust_version() { rustc --version 2>/dev/null | cut -d ' ' -f 2; }

# Makes sure of a Rust toolchain: the one that is there, else Debian's when it is new enough.
need_rust() {
  local found offered
  found=$(rust_version || true)
  if new_enough "$found" && command -v cargo >/dev/null; then
    return
  fi
  offered=$(apt-cache policy rustc 2>/dev/null | awk '/Candidate:/ { print $2 }')
  if new_enough "$offered"; then
    need_packages rustc cargo
    hash -r
    if new_enough "$(rust_version || true)"; then
      return
    fi
  fi
  fail "needs Rust 1.$RUST_MIN_MINOR or later (found: ${found:-none}; Debian offers: ${offered:-none}). Get it with
  curl --proto '=https' --tlsv1.2 -sSf https://sh.rustup.rs | sh
and run this script again."
}

# Makes a Python under the target folder with what some tests compare with: all packages of PyPI that a script needs, in
# one call, each with its version. Those that are there already stay. Without the network these tests are skipped and
# counted; in CI that is a failure.
need_python_packages() { need_python python "$@"; }

# The same in a Python of another name, for packages that would get into each other's way.
need_python() {
  local venv=$TARGET/$1
  shift
  local wanted="$*"
  if [ "$(cat "$venv/packages" 2>/dev/null)" = "$wanted" ]; then
    return
  fi
  if [ ! -x "$venv/bin/python" ]; then
    need_packages python3-venv
    python3 -m venv "$venv" || fail "cannot make a Python in $venv"
  fi
  say "installing Python packages: $wanted"
  if "$venv/bin/python" -m pip install --quiet --disable-pip-version-check "$@"; then
    printf '%s' "$wanted" >"$venv/packages"
  elif [ "${CI:-}" = true ]; then
    fail "cannot install Python packages: $wanted"
  else
    say "cannot install $wanted; tests that compare with them are skipped"
  fi
}

# Makes a program of crates.io under the target folder, in its version, without optimising: it runs for seconds, and is compiled for
# minutes.
need_cargo_tool() {
  local tools=$TARGET/tools
  if [ "$(cat "$tools/$1" 2>/dev/null)" = "$2" ]; then
    return
  fi
  say "compiling $1 $2"
  if CARGO_PROFILE_DEV_DEBUG=0 cargo install --quiet --locked --debug --root "$tools" --target-dir "$tools/build" "$1@$2"; then
    rm -rf "$tools/build"
    printf '%s' "$2" >"$tools/$1"
  elif [ "${CI:-}" = true ]; then
    fail "cannot compile $1 $2"
  else
    say "cannot compile $1; what needs it fails"
  fi
}

# Rates the roads of the invented island of Varrow, from data-samples/ of the folder that this is called in: the program,
# the layer. The demo and the pages for people show the same layer.
rate_varrow() {
  "$1" build data-samples/varrow.osm.pbf --elevation data-samples/varrow-elevation.tif --canopy data-samples/varrow-canopy.tif \
    --credit "Varrow, an invented island, CC0" -o "$2" --overwrite
}

# The brief of three days on Varrow, from the same folder: the program, the layer, the page.
plan_varrow() {
  "$1" plan "$2" data-samples/varrow-circuit.gpx --zone=-01:00 --depart 2026-06-15T08:50 --depart 2026-06-16T08:20 --depart 2026-06-17T07:45 \
    --meetings data-samples/varrow-meetings.ics --trip data-samples/varrow-trip.toml --title "Round Varrow by the gauges" -o "$3" --overwrite
}

# Runs one named step and says how long it took; the first failure ends the script.
step() {
  local name=$1 begun=$SECONDS
  shift
  say "$name"
  "$@" || fail "$name failed"
  say "$name: $((SECONDS - begun)) s"
}
