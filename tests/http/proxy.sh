#!/usr/bin/env bash
# Behind a real nginx, set up as scripts/package/nginx-site says: pages, cookies and origins are those of TLS, and who guesses a
# password is told by the address that nginx saw. Clients stand at 127.0.0.11 and so on.
set -euo pipefail
program=$1 source=$2
command -v nginx >/dev/null || PATH=$PATH:/usr/sbin
folder=$(mktemp -d)
server="" proxy=""
finish() {
  [ -z "$server" ] || kill "$server" 2>/dev/null || true
  [ -z "$proxy" ] || kill "$proxy" 2>/dev/null || true
  wait 2>/dev/null || true
  rm -rf "$folder"
}
trap finish EXIT
fail() { echo "proxy: $1" >&2; tail -5 "$folder/error.log" >&2 || true; exit 1; }

"$source/scripts/local-cert" "$folder/cert" nursery.example >/dev/null
"$program" new "$folder/n.db" --season 2031 --ship 2032-04-19 2>/dev/null
secret="zqx seven green tubers"
for who in owner:Marta office:Olga; do
  echo "$secret" | "$program" user "$folder/n.db" add "${who#*:}" --role "${who%%:*}" 2>/dev/null
done
"$program" serve "$folder/n.db" --listen 127.0.0.1:0 --host nursery.example --trusted-proxy 127.0.0.1 2>"$folder/said" &
server=$!
for _ in $(seq 600); do grep -q '^http' "$folder/said" && break; sleep 0.1; done
own=$(sed -n 's|^http://127.0.0.1:||p' "$folder/said")
[ -n "$own" ] || fail "the program does not serve: $(cat "$folder/said")"

port=$(node -e 'const s=require("net").createServer().listen(0,"127.0.0.1",()=>{console.log(s.address().port);s.close()})')
sed -e "s|127.0.0.1:8473|127.0.0.1:$own|; s|listen 443 ssl|listen 127.0.0.1:$port ssl|" \
  -e "s|/etc/ssl/nursery/|$folder/cert/|" "$source/scripts/package/nginx-site" >"$folder/site"
cat >"$folder/nginx.conf" <<EOF
daemon off; master_process off; pid $folder/pid; error_log $folder/error.log;
events { worker_connections 1024; }
http { access_log off; client_body_temp_path $folder/t1; proxy_temp_path $folder/t2; fastcgi_temp_path $folder/t3;
       uwsgi_temp_path $folder/t4; scgi_temp_path $folder/t5; include $folder/site; }
EOF
nginx -c "$folder/nginx.conf" -e "$folder/error.log" &
proxy=$!
base=https://nursery.example:$port
ask() { # from, then curl's arguments; prints the status, the reply is in $folder/reply, its head in $folder/head
  local from=$1
  shift
  curl -sS -m 20 --interface "$from" --resolve "nursery.example:$port:127.0.0.1" --cacert "$folder/cert/authority.pem" \
    -o "$folder/reply" -D "$folder/head" -w '%{http_code}' "$@"
}
sign_in() { # from, name, password, more of curl's arguments
  ask "$1" -H 'Content-Type: application/json' -H "Origin: $base" "${@:4}" -d "{\"name\":\"$2\",\"password\":\"$3\"}" "$base/api/session"
}
for _ in $(seq 600); do [ "$(ask 127.0.0.11 "$base/api/session" 2>/dev/null)" = 200 ] && break; sleep 0.1; done

[ "$(sign_in 127.0.0.11 Marta "$secret")" = 200 ] || fail "nobody can sign in: $(cat "$folder/reply")"
cookie=$(sed -n 's/^[Ss]et-[Cc]ookie: \([^;]*\);.*Secure.*/\1/p' "$folder/head")
case $cookie in __Host-clumpwise=*) ;; *) fail "the cookie is not that of TLS: $(cat "$folder/head")" ;; esac
csrf=$(sed 's/.*"csrf":"\([^"]*\)".*/\1/' "$folder/reply")
session=(-H "Cookie: $cookie" -H "X-CSRF-Token: $csrf" -H "Content-Type: application/json")
[ "$(ask 127.0.0.11 "${session[@]}" -H "Origin: $base" -X PATCH -d '{"confidence":"0.8"}' "$base/api/settings")" = 200 ] ||
  fail "the own page may not write: $(cat "$folder/reply")"
[ "$(ask 127.0.0.11 "${session[@]}" -H "Origin: https://other.example" -X PATCH -d '{"confidence":"0.8"}' "$base/api/settings")" = 403 ] ||
  fail "another page may write"
[ "$(ask 127.0.0.11 "${session[@]}" -H "Origin: http://nursery.example:$port" -X PATCH -d '{"confidence":"0.8"}' "$base/api/settings")" = 403 ] ||
  fail "a page without TLS may write"

# Who guesses waits, though each guess says that it comes from elsewhere; the owner at another place does not.
for i in 1 2 3 4 5 6; do status=$(sign_in 127.0.0.12 Marta "wrong wrong wrong" -H "X-Forwarded-For: 192.0.2.$i"); done
[ "$status" = 429 ] || fail "who guesses need not wait: $status"
[ "$(sign_in 127.0.0.12 Marta "$secret")" = 429 ] || fail "and the right one there neither"
[ "$(sign_in 127.0.0.13 Marta "$secret")" = 200 ] || fail "the owner is locked out by somebody else's guesses: $(cat "$folder/reply")"

# Beside the proxy nobody is believed: 20 wrong tries at 20 names are those of one address.
for i in $(seq 21); do
  status=$(curl -sS -m 20 --interface 127.0.0.14 -o /dev/null -w '%{http_code}' -H 'Content-Type: application/json' \
    -H "X-Forwarded-For: 192.0.2.$i" -d "{\"name\":\"Nobody $i\",\"password\":\"wrong wrong wrong\"}" "http://127.0.0.1:$own/api/session")
done
[ "$status" = 429 ] || fail "X-Forwarded-For is believed of anybody: $status"

# Many that ask nothing, at the proxy: the next one is answered.
node -e 'const net=require("net");for(let i=0;i<400;i++)net.connect({port:+process.argv[1],host:"127.0.0.1",localAddress:"127.0.0."+(20+i%40)}).on("error",()=>{});setTimeout(()=>process.exit(),20000)' "$port" &
idle=$!
sleep 1
begun=$(date +%s%N)
[ "$(ask 127.0.0.11 "${session[@]}" "$base/api/nursery")" = 200 ] || fail "nobody is answered beside idle ones"
took=$((($(date +%s%N) - begun) / 1000000))
kill "$idle"
[ "$took" -lt 5000 ] || fail "answered after $took ms beside idle ones"
echo "1 passed, 0 failed"
