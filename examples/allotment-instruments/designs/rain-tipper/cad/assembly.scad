// Pictures of the rain tipper, made from the meshes that go out. `view` picks one. Rod, magnets, sensor and screws
// are drawn as plain blocks of their nominal sizes.

include <holes.scad>
include <layout.scad>

view = "front";
clay = "#8a5a44";
straw = "#e3cf8a";
moss = "#66794f";
steel = "#a9adb0";
dark = "#4a4d50";

hood_high = 116;

module mesh(name) { import(str("../meshes/", name, ".stl"), convexity = 12); }
module base() { color(moss) mesh("base"); }
module bucket(lean = tip, up = 0) {
    translate([0, 0, floor_ + pivot + up]) rotate([0, lean, 0]) translate([0, 0, -axle_z]) {
        color(straw) mesh("bucket");
        for (s = [-1, 1]) translate([0, s * (bucket_over - magnet_deep), magnet_z]) rotate([-s * 90, 0, 0]) disc();
    }
}
module disc() { color(steel) cylinder(d = magnet[0], h = magnet[1], $fn = 48); }
module rod(out = 0) { color(steel) translate([0, 24 - out, floor_ + pivot]) rotate([90, 0, 0]) cylinder(d = axle, h = 48, $fn = 32); }
module sensor(out = 0) {
    translate([0, yoke_in + 26 + out, floor_ + pivot + magnet_z - axle_z]) rotate([90, 0, 0]) {
        color(dark) cylinder(d = 6, h = 26, $fn = 48);
        color("#222222") translate([0, 0, -10]) cylinder(d = 3, h = 10, $fn = 24);
    }
}
module base_magnets(up = 0) { for (a = post_turns) rotate(a) translate([post_at, 0, floor_ + post_high - magnet[1] + up]) disc(); }
module feet(down = 0) { for (a = foot_turns) rotate(a) translate([foot_at, 0, -24 - down]) color(straw) mesh("foot"); }
module foot_screws(up = 0) {
    for (a = foot_turns) rotate(a) translate([foot_at, 0, floor_ + up]) color(steel) {
        difference() { cylinder(d1 = 7.6, d2 = 5, h = 2.2, $fn = 32); translate([0, 0, 1]) cylinder(d = 2.9, h = 2, $fn = 6); }
        translate([0, 0, -16]) cylinder(d = 4, h = 16, $fn = 24);
    }
}
module hood(up = 0) { color(moss) translate([0, 0, floor_ + hood_high + up]) rotate([0, 180, 0]) mesh("hood"); }

// The hood with a quarter cut away, to look inside.
module cut_hood() {
    color(moss) difference() {
        translate([0, 0, floor_ + hood_high]) rotate([0, 180, 0]) mesh("hood");
        translate([-2, -80, -1]) cube([100, 80, 200]);
    }
}

if (view == "front") { base(); bucket(); rod(); sensor(); feet(); foot_screws(); base_magnets(); cut_hood(); }
if (view == "whole") { base(); feet(); hood(); }
if (view == "magnets") { base(); base_magnets(16); }
if (view == "feet") { base(); feet(16); foot_screws(22); base_magnets(); }
if (view == "bucket") { base(); base_magnets(); feet(); foot_screws(); bucket(0, 42); translate([0, 0, 42]) rod(44); }
if (view == "sensor") { base(); base_magnets(); feet(); foot_screws(); bucket(-tip); rod(); sensor(28); }
if (view == "hood") { base(); base_magnets(); feet(); foot_screws(); bucket(-tip); rod(); sensor(); hood(62); }
