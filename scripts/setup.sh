# Sourced by scripts/run and scripts/test: a virtual environment of the project's own, and the system's
# libraries that Qt needs. Sets $python. Needs: $root, and $extras (which optional parts to install).
#
# STILLVOLT_PYTHON  the interpreter to use (a path or a name); it gets an environment of its own, such as .venv-3.13.
#                   Without it: the first Python on the PATH that is new enough, in .venv.
# STILLVOLT_VENV    another folder for the environment.

say() { printf '%s\n' "$*" >&2; }

version_of() { "$1" -c 'import sys; print("%d.%d" % sys.version_info[:2])'; }

if [ -n "${STILLVOLT_PYTHON:-}" ]; then
    version="$(version_of "$STILLVOLT_PYTHON")" || { say "STILLVOLT_PYTHON=$STILLVOLT_PYTHON cannot be run."; exit 1; }
    venv="${STILLVOLT_VENV:-$root/.venv-$version}"
else
    venv="${STILLVOLT_VENV:-$root/.venv}"
fi
python="$venv/bin/python"
[ -x "$venv/Scripts/python.exe" ] && python="$venv/Scripts/python.exe"

# What Qt's window plugin loads on Debian and Ubuntu and pip does not bring.
qt_libraries="libegl1 libgl1 libxkbcommon-x11-0 libxcb-cursor0 libxcb-icccm4 libxcb-keysyms1 libxcb-shape0 \
libxcb-image0 libxcb-render-util0 libxcb-xinerama0 libxcb-randr0 libxcb-xkb1 libdbus-1-3 libfontconfig1 \
fonts-dejavu-core"

# What WeasyPrint draws the report's PDF with.
pdf_libraries="libpango-1.0-0 libpangoft2-1.0-0"

# What the checks need beyond that: the circuit simulator, a browser that opens the report, a reader of its PDF, and a
# message bus for the desktop that keeps the computer awake.
test_programs="ngspice chromium poppler-utils dbus"

install_system_packages() {
    command -v dpkg-query >/dev/null 2>&1 || return 0
    local missing=""
    local package
    for package in "$@"; do
        dpkg-query -W -f '${Status}' "$package" 2>/dev/null | grep -q 'ok installed' || missing="$missing $package"
    done
    [ -n "$missing" ] || return 0
    if [ "$(id -u)" = 0 ]; then
        say "Installing from Debian:$missing"
        # shellcheck disable=SC2086  # a list of words
        { apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $missing; } >/dev/null
    else
        say "These system packages are missing. Install them once with:"
        say "    sudo apt-get install$missing"
        return 1
    fi
}

find_python() {
    if [ -n "${STILLVOLT_PYTHON:-}" ]; then
        set -- "$STILLVOLT_PYTHON"
    else
        set -- python3.11 python3.12 python3.13 python3 python
    fi
    local candidate
    for candidate in "$@"; do
        if command -v "$candidate" >/dev/null 2>&1 &&
            "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
            echo "$candidate"
            return
        fi
    done
    say "Python 3.11 or newer is needed and was not found (looked for: $*)."
    return 1
}

set_up() {
    if [ ! -x "$python" ] || ! "$python" -m pip --version >/dev/null 2>&1; then
        local base
        base="$(find_python)" || exit 1
        "$base" -c 'import ensurepip, venv' 2>/dev/null || install_system_packages python3-venv || exit 1
        say "Making a virtual environment in $venv"
        "$base" -m venv "$venv" || exit 1
        [ -x "$venv/Scripts/python.exe" ] && python="$venv/Scripts/python.exe"
    fi
    if [ -n "${STILLVOLT_PYTHON:-}" ] && [ "$(version_of "$python")" != "$version" ]; then
        say "$venv is of another Python than $STILLVOLT_PYTHON. Name another folder with STILLVOLT_VENV, or delete it."
        exit 1
    fi
    # Installed again only when what is asked for has changed.
    local wanted
    wanted="$extras $(cksum <"$root/pyproject.toml")"
    if [ "$(cat "$venv/installed" 2>/dev/null)" != "$wanted" ]; then
        say "Installing the project's packages (a few minutes the first time)"
        "$python" -m pip install --quiet --disable-pip-version-check -e "$root${extras:+[$extras]}" || exit 1
        printf '%s' "$wanted" >"$venv/installed"
    fi
}
