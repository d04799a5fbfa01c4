// Pictures of the vent minder, made from the meshes that go out. `view` picks one. Board, servo and screws are
// drawn as plain blocks of their nominal sizes.

include <holes.scad>
include <layout.scad>

view = "front";
board = view == "stack" ? "stack" : "ce";
clay = "#8a5a44";
straw = "#e3cf8a";
clear = "#dfe9ea";
brass = "#c9a24b";
steel = "#a9adb0";
green = "#4f7a5c";
dark = "#4a4d50";

x0 = outer_box()[0][0];
middle = width() / 2;
tilt = 40;

module mesh(name) { import(str("../meshes/", name, ".stl"), convexity = 12); }

module case() { color(clay) mesh(str("case-", board)); }
module window(up = 0) {
    color(clear, 0.38) translate([0, width(), high() + lid + up]) rotate([180, 0, 0]) mesh(str("window-", board));
}
module inserts(up = 0) {
    for (c = corner_points()) translate([c[0], c[1], high() - 5.7 + up]) color(brass) tube(4.6, 3, 5.7);
}
module tube(d, bore, h) { difference() { cylinder(d = d, h = h, $fn = 32); translate([0, 0, -1]) cylinder(d = bore, h = h + 2, $fn = 32); } }

// A screw head at the origin, its shank along -z.
module screw(d, head, k, long) { color(steel) { cylinder(d = head, h = k, $fn = 32); translate([0, 0, -long]) cylinder(d = d, h = long, $fn = 24); } }

// Boards as blocks: the outline, and what stands on it.
module board_block() {
    translate([0, 0, top()]) {
        color(green) translate([0, 0, -thick()]) linear_extrude(thick()) difference() {
            square([length_(), width()]);
            for (m = mounts()) translate([m[0], m[1]]) circle(d = ce() ? 2.5 : 3.18, $fn = 32);
        }
        if (ce()) {
            color(steel) for (x = [56.6, 76]) translate([x - 6.6, -0.8, 0]) cube([13.2, 13.9, 7]);
            color(steel) translate([17.5, 0, 0]) cube([15, 8.9, 6.5]);
            color(steel) translate([37.8, -0.5, 0]) cube([7.6, 5.4, 2.7]);
            color(steel) translate([1, 0, 0]) cube([14, 15.2, 1.5]);
            color(dark) translate([66.9, 41.4, 0]) cube([9.2, 12.6, 6.5]);
            color(dark) translate([8.5, 47.5, 0]) cube([41, 5, 4.5]);
            color(dark) translate([28, 22, 0]) cube([16, 16, 1.6]);
        } else {
            color(dark) translate([81.9, 5.1, 0]) cube([5.1, 81.3, 9]);
            color(dark) translate([87.1, 25.4, 0]) cube([5, 50.8, 9]);
            color(dark) translate([30, 34, 0]) cube([24, 24, 2.4]);
            color(steel) translate([12, -9, 0]) cube([34, 12, 8]);
        }
    }
}
module board_screws(up = 0) {
    for (m = mounts()) translate([m[0], m[1], top() + up]) screw(ce() ? 2.5 : 3, ce() ? 5 : 5.6, ce() ? 2.1 : 2.4, ce() ? 8 : 10);
}

// The servo in the arm's own coordinates.
module servo(up = 0) {
    translate([45.7, 0, 22 + up]) {
        color(dark) translate([-11.4, -6.1, -16]) cube([22.8, 12.2, 23]);
        color(dark) translate([-16.1, -6.1, 0]) cube([32.2, 12.2, 2.5]);
        color("#f0f0ee") translate([5.3, 0, 7]) cylinder(d = 11.8, h = 4, $fn = 48);
        color("#f0f0ee") translate([5.3, -3, 10]) rotate(70) translate([-4, 0, 0]) cube([24, 6, 1.6]);
        for (s = [-1, 1]) translate([s * 13.9, 0, 2.5 + up]) screw(2, 4, 1.6, 8);
    }
}
module arm_here() {
    translate([x0 - 33, middle, 27])
        multmatrix([[-cos(tilt), 0, sin(tilt), 0], [0, -1, 0, 0], [sin(tilt), 0, cos(tilt), 0]]) translate([-8, 0, -11]) children();
}
module arm() { color(straw) mesh("arm"); }

// side 1: the cheek as drawn, -1: its mirror image.
module cheek(side, out = 0) {
    translate([x0 - 7, middle + side * (tongue_wide / 2 + out), 11]) multmatrix([[-1, 0, 0, 0], [0, 0, side, 0], [0, 1, 0, 0]])
        color(straw) mesh("cheek-left");
}
module cheek_screws(side, out, points) {
    for (p = points) translate([x0 - 7 - p[0], middle + side * (tongue_wide / 2 + 4 + out), 11 + p[1]])
        rotate([-side * 90, 0, 0]) screw(3, 5.5, 3, 12);
}
lug = [[0, 0], [13, 0]];
far = [[26, 16], [26 + 12 * cos(tilt), 16 + 12 * sin(tilt)]];

module hatch_screws(up = 0) { for (c = corner_points()) translate([c[0], c[1], high() + lid + up]) screw(3, 5.5, 3, 8); }

// Leads as bent rods from the servo to the low-speed header.
module leads() {
    for (k = [0:2]) color(["#6b4a2f", "#b3362b", "#d9822b"][k]) path([
        [x0 - 66, middle + (k - 1) * 1.6, 46], [x0 - 40, middle + (k - 1) * 1.6, 45], [x0 - 14, middle + (k - 1) * 1.6, 27],
        [x0 + 2, middle + (k - 1) * 1.6, 25.5], [x0 + 12, middle + 8, 23], [[44, 46, 33][k], 50, top() + 9], [[44, 46, 33][k], 50, top() + 4]]);
}
module path(points) {
    for (i = [0:len(points) - 2]) hull() for (p = [points[i], points[i + 1]]) translate(p) sphere(d = 1.5, $fn = 12);
}

module body() { case(); inserts(); board_block(); board_screws(); }
module mechanism() {
    arm_here() { arm(); servo(); }
    for (s = [-1, 1]) { cheek(s); cheek_screws(s, 0, concat(lug, far)); }
}

if (view == "front" || view == "stack") { body(); mechanism(); window(); hatch_screws(); }
if (view == "inserts") { case(); inserts(14); }
if (view == "board") { case(); inserts(); translate([0, 0, 22]) board_block(); board_screws(34); }
if (view == "servo") { arm(); servo(14); }
if (view == "arm") { arm_here() { arm(); servo(); } for (s = [-1, 1]) { cheek(s, 14); cheek_screws(s, 26, far); } }
if (view == "cheeks") { body(); arm_here() { arm(); servo(); } for (s = [-1, 1]) { cheek(s); cheek_screws(s, 0, far); cheek_screws(s, 16, lug); } }
if (view == "wiring") { body(); mechanism(); leads(); }
if (view == "hatch") { body(); mechanism(); window(18); hatch_screws(32); }
