// Pictures of the light plate, made from the meshes that go out. `view` picks one. Board, sensor and screws are
// drawn as plain blocks of their nominal sizes. Everything stands in the lid's frame and is turned over last.

include <holes.scad>
include <layout.scad>

view = "front";
moss = "#66794f";
clear = "#dfe9ea";
steel = "#a9adb0";
green = "#4f7a5c";
dark = "#4a4d50";

// A screw head at the origin, its shank along -z.
module screw(d, head, k, long) { color(steel) { cylinder(d = head, h = k, $fn = 32); translate([0, 0, -long]) cylinder(d = d, h = long, $fn = 24); } }

module board_block() {
    translate([0, 0, top]) {
        color(green) translate([0, 0, -thick]) linear_extrude(thick) difference() {
            square([length_, width]);
            for (m = mounts) translate([m[0], m[1]]) circle(d = 2.5, $fn = 32);
        }
        color(steel) for (x = [56.6, 76]) translate([x - 6.6, -0.8, 0]) cube([13.2, 13.9, 7]);
        color(steel) translate([17.5, 0, 0]) cube([15, 8.9, 6.5]);
        color(steel) translate([37.8, -0.5, 0]) cube([7.6, 5.4, 2.7]);
        color(steel) translate([1, 0, 0]) cube([14, 15.2, 1.5]);
        color(dark) translate([66.9, 41.4, 0]) cube([9.2, 12.6, 6.5]);
        color(dark) translate([8.5, 47.5, 0]) cube([41, 5, 4.5]);
        color(dark) translate([28, 22, 0]) cube([16, 16, 1.6]);
    }
}
module board_screws(up) { for (m = mounts) translate([m[0], m[1], top + up]) screw(2.5, 5, 2.1, 8); }
module sensor() {
    translate([sensor_at[0], sensor_at[1], lid + sensor_post]) {
        color(green) translate([-9, -7, 0]) cube([18, 14, 1.6]);
        color(dark) translate([-2, -2, -1]) cube([4, 4, 1]);
    }
}
module sensor_screws(up) { for (s = sensor_holes) translate([s[0], s[1], lid + sensor_post + 1.6 + up]) screw(2, 4, 1.6, 6); }
// Lifted off the rim by a hair, so that faces in one plane do not flicker.
module lid_mesh(see) { color(clear, see) translate([0, 0, -0.05]) import("../meshes/lid.stl", convexity = 12); }
module box_mesh() { color(moss) import("../meshes/box.stl", convexity = 12); }
module on_box() { translate([0, width, box_high + lid]) rotate([180, 0, 0]) children(); }
module lid_screws(up) { for (c = corner_points) translate([c[0], c[1], -up]) rotate([180, 0, 0]) screw(3, 5.5, 3, 8); }

if (view == "front") { box_mesh(); on_box() { board_block(); sensor(); sensor_screws(0); lid_screws(0); lid_mesh(0.38); } }
if (view == "board") { lid_mesh(1); translate([0, 0, 16]) { board_block(); sensor(); } board_screws(32); sensor_screws(32); }
if (view == "close") { box_mesh(); translate([0, 0, 34]) on_box() { board_block(); sensor(); sensor_screws(0); board_screws(0); lid_screws(14); lid_mesh(0.5); } }
