#!/bin/sh
# Puts what `laidup access` made into mosquitto's folders, and has a broker that runs read it anew.
#
#     sh deploy/mosquitto/put-in-place.sh FOLDER [ETC]
#
# FOLDER is broker/ in the yard's folder, ETC mosquitto's own (/etc/mosquitto). As root, after each
# change. The authority's key stays where it is. Whoever was revoked is cut off by the reload.
set -eu
from=${1:?usage: put-in-place.sh FOLDER [ETC]}
etc=${2:-/etc/mosquitto}
here=$(dirname "$0")

for name in broker.crt broker.key laidup.passwords laidup.acl; do
    # The folder is its user's: a link there must not have root copy another's file.
    if [ -L "$from/$name" ] || [ ! -f "$from/$name" ]; then
        echo "$from/$name: there is no such plain file; make it with: laidup access begin" >&2
        exit 1
    fi
done

owner=""
[ "$(id -u)" -ne 0 ] || ! getent passwd mosquitto >/dev/null || owner="-o mosquitto -g mosquitto"
install -d "$etc/conf.d" "$etc/certs"
# shellcheck disable=SC2086
{
    install $owner -m 0600 "$from/broker.key" "$etc/certs/broker.key"
    install $owner -m 0644 "$from/broker.crt" "$etc/certs/broker.crt"
    install $owner -m 0600 "$from/laidup.passwords" "$etc/laidup.passwords"
    install $owner -m 0600 "$from/laidup.acl" "$etc/laidup.acl"
}
install -m 0644 "$here/keeping.conf" "$etc/conf.d/laidup-keeping.conf"
install -m 0644 "$here/yard.conf" "$etc/conf.d/laidup-yard.conf"

if [ -d /run/systemd/system ] && systemctl --quiet is-active mosquitto; then
    systemctl reload mosquitto
    echo "mosquitto reads it now. A listener that is new to it needs: systemctl restart mosquitto"
else
    echo "All is in $etc. Start mosquitto, or send SIGHUP to one that runs."
fi
