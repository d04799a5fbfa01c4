// Pictures of the seed dryer, made from the meshes that go out. `view` picks one. Fan, mat and screws are drawn
// as plain blocks of their nominal sizes.

include <holes.scad>
include <layout.scad>

view = "front";
clay = "#8a5a44";
straw = "#e3cf8a";
moss = "#66794f";
steel = "#a9adb0";
dark = "#4a4d50";
white = "#ecebe6";

module mesh(name) { import(str("../meshes/", name, ".stl"), convexity = 12); }
module box() { color(moss) mesh("box"); }
module rack(k, up = 0) {
    color(straw) translate([wall + 1.1, -97 / 2, floor_ + post[1] + 14 * k + up]) mesh("rack");
}
module lid(up = 0) { color(moss) translate([0, 0, high + 2.4 + up]) rotate([180, 0, 0]) mesh("lid"); }
module frame(out = 0) { color(straw) translate([long + duct + 2.4 + out, 0, fan_z]) rotate([90, 0, -90]) mesh("filter-frame"); }
module fan(out = 0) {
    color(dark) translate([long + out, 0, fan_z]) rotate([0, 90, 0]) {
        linear_extrude(fan_deep) difference() {
            square(fan, center = true);
            circle(d = 37.5, $fn = 96);
            for (y = [-1, 1]) for (z = [-1, 1]) translate([z, y] * fan_pitch / 2) circle(d = 3.5, $fn = 32);
        }
        cylinder(d = 20, h = 8, $fn = 64);
        for (a = [0:60:300]) rotate(a) translate([0, -0.8, 1]) cube([18.2, 1.6, 6]);
    }
    for (k = [0, 1]) color(["#b3362b", "#222222"][k]) translate([long + 5 + out + k * 1.6, 12, duct_top - 2]) cylinder(d = 1.4, h = 22, $fn = 12);
}
module mat(out = 0) { color(white) translate([long + fan_deep + out, -20, fan_z - 20]) cube([mat - 0.2, 40, 40]); }
module at_holes() { for (y = [-1, 1]) for (z = [-1, 1]) translate([long, y * fan_pitch / 2, fan_z + z * fan_pitch / 2]) rotate([0, 90, 0]) children(); }
module screws(out = 0) { at_holes() translate([0, 0, fan_deep + out]) color(steel) { cylinder(d = 5.5, h = 3, $fn = 32); translate([0, 0, -16]) cylinder(d = 3, h = 16, $fn = 24); } }
module nuts(inward = 0) { at_holes() translate([0, 0, -wall - 2.4 - inward]) color(steel) difference() { hexagon(5.5, 2.4); translate([0, 0, -1]) cylinder(d = 3, h = 5, $fn = 24); } }

if (view == "front") { box(); nuts(); fan(); screws(); mat(); frame(); rack(0); rack(1); translate([-62, 0, 4]) lid(); }
if (view == "nuts") { box(); nuts(12); }
if (view == "fan") { box(); nuts(); fan(16); screws(34); }
if (view == "filter") { box(); nuts(); fan(); screws(); mat(14); frame(34); }
if (view == "racks") { box(); nuts(); fan(); screws(); mat(); frame(); rack(0, 0); rack(1, 48); lid(80); }
