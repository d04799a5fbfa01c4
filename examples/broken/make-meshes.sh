#!/usr/bin/env bash
# Makes the meshes of the broken designs about screws from cad/box.scad. Each line: folder, part, figures that
# differ from a right box. Needs OpenSCAD (2021.01) and Go. Give folders to make only those.
set -euo pipefail
cd "$(dirname "$0")"

lines='
clean-insert box kind="insert"
clean-nut box kind="nut"
thread-differs box kind="insert"
hole-missing lid lid_odd="gone"
boss-missing box odd_post="gone"
boss-low box odd_post="low" odd_deep=13
hole-offset box odd_off=1.2
hole-spread box at=[[-12,-12],[12,-12],[-12,12],[12,12]]
screw-proud box kind="nut"
hole-narrow box hole=2.4
hole-facets lid lid_hole=3.3 lid_sides=8
hole-wide box hole=3.0
hole-falls lid lid_hole=6.0
hole-loose lid lid_hole=4.2
hole-uneven box odd_hole=2.8
boss-thin box post=5
sink-narrow lid lid_thick=5 sink="counterbore" sink_wide=5.6
cone-narrow lid lid_thick=2.5 sink="countersink" sink_wide=5
head-proud lid lid_thick=3 sink="counterbore" sink_deep=1
insert-hole-narrow box kind="insert" odd_hole=3.7
insert-hole-wide box kind="insert" hole=4.6
insert-hole-shallow box kind="insert" odd_deep=5.2
insert-wall-thin box kind="insert" post=6.8
nut-pocket-missing box kind="nut" odd_pocket=0
nut-pocket-narrow box kind="nut" flats=4.97
nut-pocket-wide box kind="nut" flats=5.9
nut-pocket-shallow box kind="nut" odd_pocket=2.0
cover-early box inner=true
cover-early plate
'

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
go build -o "$work/make" ../allotment-instruments/tools/make.go

draw() { # FILE PART FIGURES…
    local out=$1 part=$2 f args=()
    shift 2
    for f in "$@"; do args+=(-D "$f"); done
    openscad -q -D "part=\"$part\"" "${args[@]}" -o "$work/part.stl" cad/box.scad </dev/null
    "$work/make" stl "$work/part.stl" "$out"
}

# The right box and lid, for every folder that has none of its own.
draw "$work/box.stl" box
draw "$work/lid.stl" lid

while read -r folder part figures; do
    [ -n "$folder" ] || continue
    if [ $# -gt 0 ] && [[ " $* " != *" $folder "* ]]; then continue; fi
    mkdir -p "designs/$folder/meshes"
    # shellcheck disable=SC2086 # figures are words
    draw "designs/$folder/meshes/$part.stl" "$part" $figures
    echo "designs/$folder/meshes/$part.stl"
done <<<"$lines"

for design in designs/*/design.yaml; do
    folder=${design%/design.yaml}
    for part in box lid; do
        if grep -q "meshes/$part\.stl" "$design" && ! grep -q "^${folder#designs/} $part" <<<"$lines"; then
            if [ $# -gt 0 ] && [[ " $* " != *" ${folder#designs/} "* ]]; then continue; fi
            mkdir -p "$folder/meshes"
            cp "$work/$part.stl" "$folder/meshes/$part.stl"
            echo "$folder/meshes/$part.stl"
        fi
    done
done
