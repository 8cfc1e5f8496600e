#!/bin/sh
# Readies a Debian machine for every test, then runs them: apt packages, .venv, pytest.
#
#     sh deploy/test-machine.sh [ARGUMENTS OF pytest]
#
# Without arguments every test runs, by two workers more than there are processors: much of it waits
# for brokers, databases and browsers. With arguments pytest runs as it is asked to.
# Works as root and as a user with sudo. Nothing is fetched by apt when all of it is there.
set -eu
cd "$(dirname "$0")/.."

# The real parts that the tests run against: a broker and its clients, a database, a browser with
# a font and what its driver needs, a PDF reader, a proxy with what speaks to it over TLS, and the
# tools that cut a network in two.
packages="python3-venv mosquitto mosquitto-clients postgresql chromium libatomic1
fonts-dejavu-core poppler-utils iproute2 nginx-light curl openssl"

missing=""
for package in $packages; do
    state=$(dpkg-query --show --showformat='${db:Status-Status}' "$package" 2>/dev/null || true)
    [ "$state" = installed ] || missing="$missing $package"
done

if [ -n "$missing" ]; then
    sudo=""
    if [ "$(id -u)" -ne 0 ]; then
        command -v sudo >/dev/null || {
            echo "As root, run: apt-get install --no-install-recommends$missing" >&2
            exit 1
        }
        sudo=sudo
    fi
    echo "Installing for the tests:$missing"
    $sudo apt-get update --quiet=2 >/dev/null
    # shellcheck disable=SC2086
    $sudo env DEBIAN_FRONTEND=noninteractive \
        apt-get install --yes --quiet=2 --no-install-recommends $missing >/dev/null
    # Debian starts a service as soon as it is installed. The tests start their own broker and
    # database on free ports, so the ones that came just now are stopped; one that ran before
    # is somebody's, and is left alone.
    for service in mosquitto postgresql nginx; do
        case "$missing " in
        *" $service "* | *" $service-light "*) $sudo service "$service" stop || true ;;
        esac
    done
fi

python3 deploy/bootstrap.py test
[ $# -gt 0 ] || {
    workers=$(($(nproc) + 2))
    set -- --numprocesses "$workers" --dist worksteal
}
exec .venv/bin/python -m pytest "$@"
