# What the scripts share. Sourced with the checkout as the working directory.

say() { printf '%s\n' "$*" >&2; }

# Words of script/packages for the given purposes.
packages_for() {
    for purpose in "$@"; do
        sed -n "s/^$purpose[[:space:]]\{1,\}//p" script/packages
    done | tr '\n' ' '
}

# Installs what is missing for the given purposes. On a system without apt it says which packages are needed and goes on: they
# may be there under other names.
need() {
    wanted=$(packages_for "$@")
    if ! command -v dpkg-query >/dev/null 2>&1 || ! command -v apt-get >/dev/null 2>&1; then
        say "this system has no apt; needed are (Debian 12 names): $wanted"
        return 0
    fi
    missing=
    for package in $wanted; do
        case $package in
        # Any Node.js will do, also one that no package brought.
        nodejs) command -v node >/dev/null 2>&1 && continue ;;
        npm) command -v npm >/dev/null 2>&1 && continue ;;
        esac
        dpkg-query -W -f '${Status}' "$package" 2>/dev/null | grep -q 'install ok installed' || missing="$missing $package"
    done
    [ -n "$missing" ] || return 0
    as_root=
    if [ "$(id -u)" != 0 ]; then
        if ! command -v sudo >/dev/null 2>&1; then
            say "not root and no sudo; please install:$missing"
            exit 1
        fi
        as_root=sudo
    fi
    say "installing:$missing"
    log=$(mktemp)
    if ! { $as_root env DEBIAN_FRONTEND=noninteractive apt-get -qq -o DPkg::Lock::Timeout=300 update &&
        # shellcheck disable=SC2086
        $as_root env DEBIAN_FRONTEND=noninteractive apt-get -qq -o DPkg::Lock::Timeout=300 install -y --no-install-recommends $missing; } >"$log" 2>&1; then
        cat "$log" >&2
        rm -f "$log"
        exit 1
    fi
    rm -f "$log"
}

# build DIR TARGET OPTION...: configures when needed, then builds quietly ("all" builds everything); all output only when it fails.
build() {
    dir=$1
    target=$2
    shift 2
    log=$(mktemp)
    if [ ! -f "$dir/build.ninja" ]; then
        meson setup "$dir" "$@" >"$log" 2>&1 || { cat "$log" >&2; rm -f "$log"; return 1; }
    fi
    ninja -C "$dir" "$target" >"$log" 2>&1 || { cat "$log" >&2; rm -f "$log"; return 1; }
    rm -f "$log"
}

# What the page is made with, in the versions of its lock file; again only when that has changed.
page_packages() {
    if [ page/node_modules/.package-lock.json -nt page/package-lock.json ]; then
        return 0
    fi
    (cd page && npm ci --ignore-scripts --no-audit --no-fund --silent) ||
        say "npm could not fetch what the page is made with: the page will only say so, everything else works"
}
