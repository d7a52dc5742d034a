#!/usr/bin/env bash
# Builds a tarball and a Debian package of the program with its manual pages, completions and guide.
#
# usage: build.sh [TARGET | static]   (a Rust target, such as x86_64-unknown-linux-musl for a program that needs no other
# library; `static`: the machine's own with the C library inside, for which its static form must be there, in Debian part
# of libc6-dev; the machine's own when not given). LEES_BIN: a program built already. Prints the paths of both.
set -euo pipefail
cd "$(dirname "$0")/.."
target=$(realpath -m "${CARGO_TARGET_DIR:-target}")
packages="$target/packages"
version=$(sed -n 's/^version = "\(.*\)"$/\1/p' Cargo.toml | head -1)
kind=${1:-}
if [ "$kind" = static ]; then
    # The target is named, so that the switch is for the program and not for what runs while it is compiled.
    kind=$(rustc -vV | sed -n 's/^host: //p')
    export RUSTFLAGS="${RUSTFLAGS:-} -C target-feature=+crt-static"
fi
if [ -z "${LEES_BIN:-}" ]; then
    cargo build --quiet --release --locked --package lees-cli ${kind:+--target "$kind"} >&2
    LEES_BIN="$target/${kind:+$kind/}release/lees"
fi
mkdir -p "$packages"
stage=$(mktemp -d)
trap 'rm -rf "$stage"' EXIT
# The same source gives the same packages: times are those of the last change, names and owners are fixed.
SOURCE_DATE_EPOCH=${SOURCE_DATE_EPOCH:-$(git log -1 --format=%ct 2>/dev/null || date +%s)}
export SOURCE_DATE_EPOCH
umask 022

# The oldest glibc that has everything the program asks for; nothing when it asks for none.
libc_needed() {
    if readelf -d "$LEES_BIN" | grep -q NEEDED; then
        readelf -W --version-info "$LEES_BIN" | grep -o 'GLIBC_[0-9.]*' | sed 's/GLIBC_//' | sort -uV | tail -1
    fi
}
needs=$(libc_needed)
# glibc inside the program: its name, and its licence, which has to go along.
glibc='' lesser_licence=/usr/share/common-licenses/LGPL-2.1
if [ "${1:-}" = static ]; then
    [ -z "$needs" ] || { echo "build.sh: $LEES_BIN needs a C library of the system" >&2; exit 1; }
    glibc=$(ldd --version | sed -n '1s/^ldd (\(.*\)) .*/\1/p')
    [ -z "$glibc" ] || [ -r "$lesser_licence" ] || { echo "build.sh: no $lesser_licence to go with glibc" >&2; exit 1; }
fi
machine=$(uname -m)
name="lees-$version-$machine-linux${needs:+-glibc$needs}"

"$LEES_BIN" manual -o "$stage/manual" >&2

documents() {
    mkdir -p "$1"
    cp README.md CHANGELOG.md LICENSE-MIT "$1/"
    cp -r docs/guide "$1/guide"
    cp packaging/lees-watch.service "$1/"
    if [ -n "$glibc" ]; then
        cp "$lesser_licence" "$1/LICENSE-LGPL-2.1"
        cat >"$1/GLIBC.txt" <<END
The program holds parts of the GNU C Library ($glibc), which are under the GNU Lesser General Public License,
version 2.1 or later: see LICENSE-LGPL-2.1. Their source is that of the distribution's package glibc of this version.
packaging/build.sh static in the program's own source links it with another version.
END
    fi
}

tree="$stage/tar/$name"
install -D -m 755 "$LEES_BIN" "$tree/bin/lees"
mkdir -p "$tree/share/man/man1" "$tree/share/completions"
cp "$stage/manual/man1/"*.1 "$tree/share/man/man1/"
cp "$stage/manual/completions/"* "$tree/share/completions/"
documents "$tree/share/doc/lees"
tarball="$packages/$name.tar.gz"
tar -C "$stage/tar" --sort=name --mtime="@$SOURCE_DATE_EPOCH" --owner=0 --group=0 --numeric-owner -cf - "$name" |
    gzip -9n >"$tarball"

root="$stage/deb"
install -D -m 755 "$LEES_BIN" "$root/usr/bin/lees"
mkdir -p "$root/usr/share/man/man1" "$root/DEBIAN"
cp "$stage/manual/man1/"*.1 "$root/usr/share/man/man1/"
gzip -9n "$root/usr/share/man/man1/"*.1
install -D -m 644 "$stage/manual/completions/lees.bash" "$root/usr/share/bash-completion/completions/lees"
install -D -m 644 "$stage/manual/completions/lees.zsh" "$root/usr/share/zsh/vendor-completions/_lees"
install -D -m 644 "$stage/manual/completions/lees.fish" "$root/usr/share/fish/vendor_completions.d/lees.fish"
documents "$root/usr/share/doc/lees"
mv "$root/usr/share/doc/lees/LICENSE-MIT" "$root/usr/share/doc/lees/copyright"
gzip -9n "$root/usr/share/doc/lees/CHANGELOG.md"
mv "$root/usr/share/doc/lees/CHANGELOG.md.gz" "$root/usr/share/doc/lees/changelog.gz"
case $machine in x86_64) architecture=amd64 ;; aarch64) architecture=arm64 ;; *) architecture=$machine ;; esac
{
    echo "Package: lees"
    echo "Version: $version"
    echo "Architecture: $architecture"
    echo "Maintainer: The Lees authors"
    echo "Section: science"
    echo "Priority: optional"
    [ -z "$needs" ] || echo "Depends: libc6 (>= $needs), libgcc-s1"
    echo "Installed-Size: $(du -sk "$root/usr" | cut -f1)"
    echo "Description: Residual volatiles in a product from its proton NMR spectrum"
    echo " Says what solvent is left in a dried product, how much, with a 95 % interval, and"
    echo " whether the batch is dry, needs drying, or cannot be told from this spectrum."
} >"$root/DEBIAN/control"
(cd "$root" && find usr -type f -print0 | sort -z | xargs -0 md5sum >DEBIAN/md5sums)
deb="$packages/lees_${version}_$architecture.deb"
[ -n "$needs" ] || deb="$packages/lees_${version}_${architecture}_static.deb"
dpkg-deb --root-owner-group -Zxz --build "$root" "$deb" >&2
printf '%s\n%s\n' "$tarball" "$deb"
