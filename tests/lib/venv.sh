# Sourced by demo/run and tests/run: finds Python, makes .venv, installs with the locked versions.
# Nothing is downloaded again while pyproject.toml and requirements.lock are unchanged.

say() { printf '%s\n' "$*" >&2; }

find_python() {
    # A named python may be a shim that fails, so each is asked, not only looked up.
    local name
    for name in ${PYTHON:-} python3.11 python3.12 python3.13 python3; do
        if "$name" -c 'import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; then
            printf '%s' "$name"
            return 0
        fi
    done
    say "Python 3.11 or newer with venv is needed. On Debian and Ubuntu: apt-get install python3 python3-venv python3-pip."
    say "Another one can be named: PYTHON=/path/to/python3 $0"
    return 1
}

# prepare_venv EXTRAS: leaves $PY, the interpreter of .venv with bench_voice[EXTRAS] installed in place.
prepare_venv() {
    local extras=$1 python wanted stamp
    PY=$ROOT/.venv/bin/python
    if ! "$PY" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; then
        python=$(find_python) || return 2
        say "Making .venv with $("$python" --version 2>&1)"
        rm -rf "$ROOT/.venv"
        "$python" -m venv "$ROOT/.venv" || return 2
    fi
    stamp=$ROOT/.venv/installed-$extras
    # Sums of what decides the installation, and where it was made: a moved checkout installs again.
    wanted="$ROOT $(cat "$ROOT/pyproject.toml" "$ROOT/requirements.lock" | cksum)"
    if [ "$(cat "$stamp" 2>/dev/null)" = "$wanted" ]; then
        say "The environment is up to date."
        return 0
    fi
    say "Installing bench-voice[$extras] into .venv with the versions of requirements.lock (about 800 MB on disk) ..."
    local begun=$SECONDS log=$ROOT/.venv/install.log
    if ! "$PY" -m pip install --disable-pip-version-check --no-input \
        -e "$ROOT[$extras]" -c "$ROOT/requirements.lock" >"$log" 2>&1; then
        tail -n 20 "$log" >&2
        say "The installation failed; pip's own message stands above. Is there a network, and room on the disk?"
        return 2
    fi
    printf '%s' "$wanted" >"$stamp"
    say "Installed in $((SECONDS - begun)) s."
}
