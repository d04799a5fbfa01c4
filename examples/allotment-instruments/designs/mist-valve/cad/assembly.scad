// Pictures of the mist valve, made from the meshes that go out. `view` picks one. Boards, terminal block and screws
// are drawn as plain blocks of their nominal sizes.

include <holes.scad>
include <layout.scad>

view = "front";
clay = "#8a5a44";
straw = "#e3cf8a";
brass = "#c9a24b";
steel = "#a9adb0";
green = "#4f7a5c";
blue = "#5b7c99";
dark = "#4a4d50";

// A screw head at the origin, its shank along -z.
module screw(d, head, k, long) { color(steel) { cylinder(d = head, h = k, $fn = 32); translate([0, 0, -long]) cylinder(d = d, h = long, $fn = 24); } }
module pan_screws(points, z) { for (p = points) translate([p[0], p[1], z]) screw(3, 5.6, 2.4, 10); }

module main_board() {
    translate([0, 0, top]) {
        color(green) translate([0, 0, -thick]) linear_extrude(thick) difference() {
            square([length_, width]);
            for (m = mounts) translate(m) circle(d = 3.18, $fn = 32);
        }
        color(dark) translate([81.9, 5.1, 0]) cube([5.1, 81.3, 9]);
        color(dark) translate([87.1, 25.4, 0]) cube([5, 50.8, 9]);
        color(dark) translate([30, 34, 0]) cube([24, 24, 2.4]);
        color(steel) translate([12, -9, 0]) cube([34, 12, 8]);
    }
}
module relay_board() {
    translate([relay_at[0], relay_at[1], floor_ + relay_up]) rotate(90) {
        color(blue) linear_extrude(relay_thick) difference() {
            square([50, 26]);
            for (m = relay_mounts) translate(m) circle(d = 3.2, $fn = 32);
        }
        translate([0, 0, relay_thick]) {
            color(steel) translate([11.5, 19.4, 0]) cube([9, 7.4, 3.3]);
            color(green) translate([9.8, 0.2, 0]) cube([30.5, 7.6, 10]);
            color(dark) translate([23, 9, 0]) cube([15, 15, 15.5]);
        }
    }
}
module block() {
    translate([-21, 76, floor_ + relay_up]) {
        color("#f0f0ee") difference() {
            translate([-12, -4.5, 0]) cube([24, 9, 3]);
            for (s = [-8, 8]) translate([s, 0, -1]) cylinder(d = 3.2, h = 5, $fn = 32);
        }
        color("#f0f0ee") translate([-5.2, -4.5, 0]) cube([10.4, 9, 11]);
    }
}
module boards(up, over) {
    translate([0, 0, up]) { main_board(); relay_board(); block(); }
    pan_screws(mounts, top + up + over);
    pan_screws([for (m = relay_mounts) on_relay(m)], floor_ + relay_up + relay_thick + up + over);
    pan_screws(block_holes, floor_ + relay_up + 3 + up + over);
}
module base_mesh() { color(clay) import("../meshes/base.stl", convexity = 12); }
module lid_mesh() { color(clay) translate([0, width, high + lid]) rotate([180, 0, 0]) import("../meshes/lid.stl", convexity = 12); }
module tip() { color(brass) { cylinder(d = 9, h = 1, $fn = 48); difference() { cylinder(d = 6, h = 6, $fn = 48); translate([0, 0, 5]) cylinder(d1 = 0.6, d2 = 3, h = 1.01, $fn = 24); } } }
module nozzle_(out) {
    color(straw) import("../meshes/jet.stl", convexity = 12);
    translate([0, 0, 11.8 + out]) color(dark) rotate_extrude($fn = 48) translate([3.75, 0.75]) circle(d = 1.5, $fn = 16);
    translate([0, 0, 13 + 1.6 * out]) tip();
    translate([0, 0, 14 + 2.6 * out]) color(straw) import("../meshes/cap.stl", convexity = 12);
    pan_screws(nozzle_screws, 17 + 3.6 * out);
}

if (view == "front") {
    base_mesh();
    lid_mesh();
    boards(0, 0);
    for (c = corner_points) translate([c[0], c[1], high + lid]) screw(3, 5.5, 3, 8);
    for (x = [-10, 35, 80]) translate([x, -48, 0]) nozzle_(0);
}
if (view == "boards") { base_mesh(); boards(30, 14); }
if (view == "nozzle") nozzle_(7);
