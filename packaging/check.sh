#!/usr/bin/env bash
# Builds both packages, installs them where nothing else is, and uses what was installed.
#
# usage: check.sh [TARGET | static], as for build.sh. LEES_BIN: a program built already.
set -euo pipefail
cd "$(dirname "$0")/.."
mapfile -t packages < <(packaging/build.sh "$@")
tarball=${packages[0]} deb=${packages[1]}
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
version=$(sed -n 's/^version = "\(.*\)"$/\1/p' Cargo.toml | head -1)
mkdir "$folder/sample"
cp demo-spectra/batch-2-h.jdx demo-spectra/thiazolyl-coumarin.toml "$folder/sample/"

# The program alone, without environment, in a folder with nothing but a sample.
use_program() {
    [ "$(env -i "$1" --version)" = "lees $version" ]
    (cd "$folder/sample" && env -i "$1" check batch-2-h.jdx --product thiazolyl-coumarin.toml) >"$folder/said"
    grep -q '^NEEDS DRYING' "$folder/said"
    (cd "$folder/sample" && env -i "$1" report batch-2-h.jdx --product thiazolyl-coumarin.toml -o page.html)
    grep -q '</html>' "$folder/sample/page.html"
}

# Pages open without a complaint and there is one for each command in the help; completions parse.
use_manual() {
    local pages=$1 bash_file=$2 command page
    for command in $("$3" help | sed -n '/^Commands:/,/^$/s/^  \([a-z]*\) .*/\1/p' | grep -v '^help$') ''; do
        page=$(ls "$pages/lees${command:+-$command}".1*)
        if command -v man >/dev/null; then
            MANROFFSEQ='' MANWIDTH=80 man --warnings -l "$page" 2>"$folder/complaints" | grep -q 'NAME'
            [ ! -s "$folder/complaints" ] || { cat "$folder/complaints"; return 1; }
        fi
    done
    bash -n "$bash_file"
    # shellcheck disable=SC2016
    bash -c '. "$1"; COMP_WORDS=(lees che) COMP_CWORD=1; _lees lees che lees; printf "%s\n" "${COMPREPLY[@]}"' - "$bash_file" |
        grep -qx check
}

tar -C "$folder" -xzf "$tarball"
prefix=$(echo "$folder"/lees-*)
use_program "$prefix/bin/lees"
use_manual "$prefix/share/man/man1" "$prefix/share/completions/lees.bash" "$prefix/bin/lees"
for file in README.md CHANGELOG.md LICENSE-MIT guide/README.md guide/pictures/drying.png lees-watch.service; do
    [ -s "$prefix/share/doc/lees/$file" ]
done
echo "packaging: $(basename "$tarball"), $(du -k "$tarball" | cut -f1) KiB: unpacked, used"

root="$folder/root"
mkdir -p "$root/var/lib/dpkg/info" "$root/var/lib/dpkg/updates" "$root/var/log"
touch "$root/var/lib/dpkg/status"
dpkg_in_root() { dpkg --root="$root" --log=/dev/null --force-not-root --force-depends "$@" >"$folder/dpkg.log" 2>&1 || { cat "$folder/dpkg.log"; return 1; }; }
dpkg_in_root -i "$deb"
dpkg-query --admindir="$root/var/lib/dpkg" -W -f '${Status}' lees | grep -q '^install ok installed$'
use_program "$root/usr/bin/lees"
use_manual "$root/usr/share/man/man1" "$root/usr/share/bash-completion/completions/lees" "$root/usr/bin/lees"
(cd "$root" && md5sum --quiet -c var/lib/dpkg/info/lees.md5sums)
if [ "$(id -u)" = 0 ] && ! readelf -d "$root/usr/bin/lees" | grep -q NEEDED; then
    # With nothing else in the root, not even a C library.
    [ "$(chroot "$root" /usr/bin/lees --version)" = "lees $version" ]
    echo "packaging: the static program runs in a root with nothing else in it"
fi
depends=$(dpkg-deb -f "$deb" Depends)
dpkg_in_root -r lees
[ ! -e "$root/usr" ] || [ -z "$(find "$root/usr" -type f)" ]
echo "packaging: $(basename "$deb"), $(du -k "$deb" | cut -f1) KiB, needs ${depends:-nothing}: installed, used, removed"
