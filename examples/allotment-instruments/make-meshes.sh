#!/usr/bin/env bash
# Rebuilds every mesh of the season from its CAD source, and the pictures from the meshes.
#
#   ./make-meshes.sh                    all meshes and pictures
#   ./make-meshes.sh meshes [PART…]     meshes only; PART as in the table below (vent-minder/case-ce)
#   ./make-meshes.sh photos [DESIGN…]   pictures only
#
# OUT=DIR writes the meshes to DIR/DESIGN/PART.stl instead of into the designs, so that they can be compared.
# Needs OpenSCAD (2021.01) and Go; pictures also need xvfb-run when there is no display.
set -euo pipefail
cd "$(dirname "$0")"

# design/part, CAD source, variables set for it
meshes='
soil-stake/soil-stake soil-stake.scad
vent-minder/case-ce case.scad board="ce"
vent-minder/case-stack case.scad board="stack"
vent-minder/window-ce window.scad board="ce"
vent-minder/window-stack window.scad board="stack"
vent-minder/arm arm.scad
vent-minder/cheek-left cheek.scad
seed-dryer/box box.scad
seed-dryer/rack rack.scad
seed-dryer/lid lid.scad
seed-dryer/filter-frame filter-frame.scad
rain-tipper/hood hood.scad
rain-tipper/base base.scad
rain-tipper/bucket bucket.scad
rain-tipper/foot foot.scad
light-plate/lid lid.scad
light-plate/box box.scad
mist-valve/base base.scad
mist-valve/lid lid.scad
mist-valve/jet jet.scad
mist-valve/cap cap.scad
'

# design/picture, camera (middle x,y,z; turn about x,y,z; distance), view in assembly.scad
photos='
soil-stake/front 15,-10,45,68,0,24,640 front
vent-minder/front -2,27,26,58,0,-28,410 front
vent-minder/inserts 26,27,18,50,0,-25,330 inserts
vent-minder/board 28,27,36,58,0,-25,360 board
vent-minder/servo 33,0,28,60,0,30,230 servo
vent-minder/arm -46,27,36,60,0,-40,270 arm
vent-minder/cheeks -4,27,24,60,0,-30,410 cheeks
vent-minder/wiring -4,27,24,42,0,-15,420 wiring
vent-minder/hatch -2,27,36,60,0,-28,400 hatch
vent-minder/stack 15,45,28,55,0,-28,470 stack
seed-dryer/front 45,0,36,58,0,48,540 front
seed-dryer/nuts 95,0,30,48,0,-56,400 nuts
seed-dryer/fan 115,0,34,62,0,52,390 fan
seed-dryer/filter 120,0,34,62,0,52,400 filter
seed-dryer/racks 74,0,70,66,0,40,560 racks
rain-tipper/front 0,0,48,66,0,34,470 front
rain-tipper/whole 0,0,45,66,0,34,470 whole
rain-tipper/magnets 0,0,22,58,0,34,330 magnets
rain-tipper/feet 0,0,8,60,0,34,370 feet
rain-tipper/bucket 0,-6,34,64,0,50,430 bucket
rain-tipper/sensor 0,14,14,56,0,130,380 sensor
rain-tipper/hood 0,0,74,72,0,130,640 hood
light-plate/front 34,27,10,58,0,152,430 front
light-plate/board 34,27,22,58,0,-25,430 board
light-plate/close 34,27,36,64,0,152,470 close
mist-valve/front 36,45,16,58,0,-28,560 front
mist-valve/boards 36,45,36,55,0,-28,620 boards
mist-valve/nozzle 0,0,16,62,0,30,190 nozzle
'

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
go build -o "$work/make" tools/make.go

fail() {
    echo "make-meshes.sh: $1; run it without -q to see why" >&2
    exit 1
}

# wanted NAME PATTERN… is true when NAME or its design is asked for, or when nothing is.
wanted() {
    local name=$1 w
    shift
    [ $# -eq 0 ] && return 0
    for w in "$@"; do
        [ "$w" = "$name" ] || [ "$w" = "${name%/*}" ] && return 0
    done
    return 1
}

make_meshes() {
    local name source defines define args out
    while read -r name source defines; do
        [ -n "$name" ] && wanted "$name" "$@" || continue
        args=()
        for define in $defines; do args+=(-D "$define"); done
        out="designs/${name%/*}/meshes/${name#*/}.stl"
        if [ -n "${OUT:-}" ]; then out="$OUT/$name.stl"; fi
        mkdir -p "$(dirname "$out")"
        openscad -q "${args[@]}" -o "$work/part.stl" "designs/${name%/*}/cad/$source" </dev/null ||
            fail "OpenSCAD made no mesh from designs/${name%/*}/cad/$source"
        "$work/make" stl "$work/part.stl" "$out"
        echo "$out"
    done <<<"$meshes"
}

# OpenSCAD's preview wants a display; a virtual one will do.
on_display() {
    if [ -n "${DISPLAY:-}" ]; then "$@"; else xvfb-run -a "$@"; fi
}

make_photos() {
    local name camera view out
    while read -r name camera view; do
        [ -n "$name" ] && wanted "$name" "$@" || continue
        out="designs/${name%/*}/photos/${name#*/}.jpg"
        mkdir -p "$(dirname "$out")"
        on_display openscad -q --imgsize=2400,1800 --projection=p --colorscheme=Tomorrow \
            --camera="$camera" -D "view=\"$view\"" \
            -o "$work/view.png" "designs/${name%/*}/cad/assembly.scad" </dev/null ||
            fail "OpenSCAD drew no picture $name"
        "$work/make" photo "$work/view.png" "$out"
        echo "$out"
    done <<<"$photos"
}

case "${1:-all}" in
all) make_meshes && make_photos ;;
meshes) shift && make_meshes "$@" ;;
photos) shift && make_photos "$@" ;;
*) sed -n '2,/^set/p' "$0" | grep '^#' >&2 && exit 2 ;;
esac
