#!/usr/bin/env bash
# scripts/local-cert: the chain holds for each name and address asked, and for no other; a second call keeps the authority.
set -euo pipefail
script=$1
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
"$script" "$folder/c" nursery.example 192.0.2.7 > "$folder/said"
check() { openssl verify -CAfile "$folder/c/authority.pem" -purpose sslserver "$@" "$folder/c/server.pem" >/dev/null 2>&1; }
check -verify_hostname nursery.example
check -verify_ip 192.0.2.7
! check -verify_hostname other.example
! check -verify_ip 192.0.2.8
grep -q 'authority.key' "$folder/said"
[ "$(stat -c %a "$folder/c/server.key")" = 600 ]
before=$(sha256sum < "$folder/c/authority.pem")
"$script" "$folder/c" nursery.example > /dev/null
[ "$before" = "$(sha256sum < "$folder/c/authority.pem")" ]
check -verify_hostname nursery.example
! "$script" "$folder/c" 'bad name;' 2>/dev/null
echo "1 passed, 0 failed"
