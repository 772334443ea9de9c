#!/usr/bin/env bash
# Brings what this project needs to run on Debian or Ubuntu: ffmpeg and ffprobe, redis-server, Node 24 in the
# project's own tree, npm dependencies. With nothing to do it ends at once, so every command may call it first.
# Says everything on stderr: the standard output belongs to the command that runs next.
#
#   bash deploy/setup.sh                  what running Nightmill needs
#   bash deploy/setup.sh --with-tests     also what the tests need
#   bash deploy/setup.sh --quiet          silent unless something fails
#   bash deploy/setup.sh --best-effort    a missing system program is told, but is no failure (a machine may need
#                                         only part of them: an agent needs no Redis)
set -euo pipefail

readonly WANTED_NODE_MAJOR=24
# Real footage for the tests, from the package opencv-doc.
readonly FOOTAGE=/usr/share/doc/opencv-doc/examples/data/vtest.avi

with_tests='' quiet='' best_effort=''
for argument in "$@"; do
  case $argument in
    --with-tests) with_tests=yes ;;
    --quiet) quiet=yes ;;
    --best-effort) best_effort=yes ;;
    *) echo "setup: unknown option $argument (known: --with-tests --quiet --best-effort)" >&2; exit 2 ;;
  esac
done

script=$(cd -- "$(dirname -- "${BASH_SOURCE[0]}")" && pwd)/setup.sh
cd -- "$(dirname -- "$script")/.."
readonly STAMP=node_modules/.nightmill-setup

main() {
  if nothing_to_do; then return 0; fi
  log=$(mktemp)
  trap leave EXIT
  wait_for_other_setups
  if nothing_to_do; then return 0; fi
  local complete=yes
  install_programs || complete=''
  install_node_packages
  [ -n "$complete" ] || [ -n "$best_effort" ]
}

nothing_to_do() {
  [ -z "$(missing_packages)" ] && node_packages_are_current
}

# Two at once would write the same tree. The lock is on this file itself, so nothing is left behind.
wait_for_other_setups() {
  if has flock; then
    exec 9< "$script"
    flock 9
  fi
}

leave() {
  let_services_start_again
  rm -f "$log"
}

say() { if [ -z "$quiet" ]; then echo "setup: $*" >&2; fi; }
complain() { echo "setup: $*" >&2; }
has() { command -v "$1" > /dev/null 2>&1; }

# ---- system programs -----------------------------------------------------------------------------------------------

# The Debian packages that bring what is missing here, in one line.
missing_packages() {
  local packages=''
  if ! has ffmpeg || ! has ffprobe; then packages+=' ffmpeg'; fi
  if ! has redis-server; then packages+=' redis-server'; fi
  if ! has npm; then packages+=' npm'; fi
  if [ -n "$with_tests" ] && [ ! -e "$FOOTAGE" ]; then packages+=' opencv-doc'; fi
  echo "${packages# }"
}

install_programs() {
  local packages
  packages=$(missing_packages)
  if [ -z "$packages" ]; then return 0; fi
  if ! has apt-get; then
    complain "missing here: $packages. This system has no apt-get: install what these Debian packages hold in its own way."
    return 1
  fi
  if [ "$(id -u)" != 0 ]; then
    if ! has sudo || ! sudo -n true 2> /dev/null; then
      complain "missing here: $packages. That needs root: sudo apt-get install $packages"
      return 1
    fi
    root=(sudo -n)
  fi
  say "installing $packages"
  apt_install "$packages"
  packages=$(missing_packages)
  if [ -n "$packages" ]; then
    complain "apt-get could not bring: $packages. Its last words:"
    tail -n 5 "$log" >&2
    return 1
  fi
}

apt_install() {
  local redis_is_new=''
  has redis-server || redis_is_new=yes
  keep_redis_from_starting
  # A mirror may hiccup: one more try.
  apt_update_and_install "$1" || { say 'apt-get failed, trying again'; apt_update_and_install "$1"; } || true
  let_services_start_again
  # Nightmill starts a Redis of its own; a service that this install brought must not come up with the machine.
  if [ -n "$redis_is_new" ] && has systemctl; then as_root systemctl disable redis-server >> "$log" 2>&1 || true; fi
}

apt_update_and_install() {
  local packages options=(-q -y -o DPkg::Lock::Timeout=300)
  read -ra packages <<< "$1"
  # One source of packages that does not answer is no reason not to try the others.
  as_root apt-get "${options[@]}" update >> "$log" 2>&1 || true
  as_root env DEBIAN_FRONTEND=noninteractive apt-get "${options[@]}" install --no-install-recommends \
    "${packages[@]}" >> "$log" 2>&1 < /dev/null
}

root=() # the words before a command that make it run as root; set once that is known to work
as_root() { ${root[@]+"${root[@]}"} "$@"; }

# Debian's installer asks this file before it starts a service. One that is there already stays as it is.
readonly SERVICE_POLICY=/usr/sbin/policy-rc.d
policy_is_ours=''
keep_redis_from_starting() {
  if [ -e "$SERVICE_POLICY" ]; then return 0; fi
  policy_is_ours=yes
  printf '%s\n' '#!/bin/sh' 'case "$*" in *redis*) exit 101 ;; esac' 'exit 0' | as_root tee "$SERVICE_POLICY" > /dev/null
  as_root chmod 755 "$SERVICE_POLICY"
}
let_services_start_again() {
  if [ -n "$policy_is_ours" ]; then as_root rm -f "$SERVICE_POLICY"; fi
  policy_is_ours=''
}

# ---- Node and its packages -----------------------------------------------------------------------------------------

node_packages_are_current() {
  [ -f "$STAMP" ] && [ "$(cat "$STAMP")" = "$(packages_fingerprint)" ] && { [ -x node_modules/.bin/node ] || has_wanted_node; }
}

# What decides about the content of node_modules: the two lists, npm's settings, the kind of machine.
packages_fingerprint() {
  { cat package.json package-lock.json .npmrc; uname -sm; } | if has sha256sum; then sha256sum; else shasum -a 256; fi
}

install_node_packages() {
  if node_packages_are_current; then return 0; fi
  has npm || { complain 'npm is missing, so the dependencies could not be installed.'; exit 1; }
  say 'installing npm packages'
  if ! npm_install && ! npm_install; then
    complain 'npm could not install the dependencies. Its last words:'
    tail -n 15 "$log" >&2
    exit 1
  fi
  # npm takes a package for another kind of machine, and one that it could not download, both as no failure.
  if ! has_wanted_node && ! { npm_install && has_wanted_node; }; then
    complain "npm brought no Node $WANTED_NODE_MAJOR for $(uname -sm). Install Node $WANTED_NODE_MAJOR or later and try again."
    exit 1
  fi
  packages_fingerprint > "$STAMP"
}

# An existing tree is brought up to date in place: `npm ci` would first empty it under the feet of whatever runs from it.
npm_install() {
  local how=ci
  if [ -d node_modules ]; then how='install --no-save'; fi
  # shellcheck disable=SC2086 # the command is meant to be split
  env -u NODE_ENV npm $how --include=dev --include=optional --loglevel=error --no-progress \
    < /dev/null > "$log" 2>&1 9<&- && link_node
}

# npm 9 takes the command `node` away again when it drops the Node packages for other kinds of machine.
link_node() {
  local node
  for node in node_modules/node-*/bin/node; do
    if [ -x "$node" ] && [ ! -e node_modules/.bin/node ]; then ln -sf "../${node#node_modules/}" node_modules/.bin/node; fi
  done
}

# npm puts node_modules/.bin before the rest of PATH for the commands in package.json; so does this.
has_wanted_node() {
  local version
  version=$(PATH="$PWD/node_modules/.bin:$PATH" node -p 'process.versions.node.split(".")[0]' 2> /dev/null) || return 1
  [ "$version" -ge "$WANTED_NODE_MAJOR" ]
}

main
