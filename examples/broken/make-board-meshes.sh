#!/usr/bin/env bash
# Makes the meshes of the broken designs about boards and fans from cad/. One tray serves them all: what is wrong
# stands in their profiles and manifests. Needs OpenSCAD (2021.01) and Go.
set -euo pipefail
cd "$(dirname "$0")"

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
go build -o "$work/make" ../allotment-instruments/tools/make.go

draw() { # SOURCE NAME FIGURES…
    local source=$1 name=$2 f args=()
    shift 2
    for f in "$@"; do args+=(-D "$f"); done
    openscad -q "${args[@]}" -o "$work/raw.stl" "cad/$source.scad" </dev/null
    "$work/make" stl "$work/raw.stl" "$work/$name.stl"
}

draw tray tray
draw tray-lid lid
draw fan-plate plate
draw fan-plate closed hole=0

for d in designs/*/; do
    for part in tray lid; do
        if [ -f "${d}meshes/tray.stl" ] && [ -f "${d}meshes/$part.stl" ]; then cp "$work/$part.stl" "${d}meshes/$part.stl"; fi
    done
done
for d in clean-fan fan-pitch; do cp "$work/plate.stl" "designs/$d/meshes/plate.stl"; done
cp "$work/closed.stl" designs/fan-covered/meshes/plate.stl
