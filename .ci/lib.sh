# Brings what the studio needs onto a fresh machine: Qt's system libraries and a virtual environment. Sourced, not run.
set -eu
cd "$(dirname "$0")/.."

# what Qt's window and its tests need of the system; only where apt is, and only what is missing
packages="python3-venv libegl1 libgl1 libglib2.0-0 libdbus-1-3 libfontconfig1 libxkbcommon0 libxkbcommon-x11-0 \
libxcb-cursor0 libxcb-icccm4 libxcb-image0 libxcb-keysyms1 libxcb-randr0 libxcb-render-util0 libxcb-shape0 \
libxcb-xinerama0 libxcb-xkb1 libxcb1 libx11-xcb1 fonts-dejavu-core"
missing=""
if command -v dpkg-query >/dev/null 2>&1; then
    for package in $packages; do
        dpkg-query -W -f '${Status}' "$package" 2>/dev/null | grep -q 'install ok installed' || missing="$missing $package"
    done
fi
if [ -n "$missing" ]; then
    as_root=""
    [ "$(id -u)" = 0 ] || as_root="sudo"
    echo "Installing system libraries:$missing"
    $as_root apt-get update -qq
    # shellcheck disable=SC2086
    DEBIAN_FRONTEND=noninteractive $as_root apt-get install -y -qq --no-install-recommends $missing >/dev/null
fi

venv="${STILLFIELD_VENV:-.venv}"
python="${PYTHON:-python3}"
if [ ! -x "$venv/bin/python" ]; then
    "$python" -m venv "$venv"
fi

install_studio() { # what to install, as pip names it
    stamp="$venv/.installed-$(printf '%s' "$1" | tr -c 'a-z\n' _)"
    if [ ! -f "$stamp" ] || [ pyproject.toml -nt "$stamp" ]; then
        "$venv/bin/python" -m pip install --quiet --disable-pip-version-check --editable "$1"
        touch "$stamp"
    fi
}
