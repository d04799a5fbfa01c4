// Box of the seed dryer with the duct for the fan. Prints as it stands, open side up, no supports: duct, nut bars
// and posts all stand on the bed or the floor. Only the arch of the round fan opening is bridged.

include <holes.scad>
include <layout.scad>

box();

module box() {
    difference() {
        union() {
            linear_extrude(floor_) outline();
            linear_extrude(high) difference() {
                outline();
                translate([wall, -inside[1] / 2]) square(inside);
            }
            linear_extrude(floor_ + post[1]) posts();
            nut_bars();
            duct_sides();
        }
        fan_cuts();
        outlets();
    }
}

module outline() { translate([0, -wide / 2]) square([long, wide]); }

// Posts in the corners. The box's own walls carry them, so they start inside the wall.
module posts() {
    for (x = [wall - 1, long - wall - post[0]]) for (s = [0, 1]) mirror([0, s])
        translate([x, wide / 2 - wall - post[0]]) square([post[0] + 1, post[0] + 1]);
}

// Two bars from the floor up thicken the wall for the nut pockets.
module nut_bars() {
    for (s = [-1, 1]) translate([long - wall - nut_deep, s * fan_pitch / 2 - 5, floor_ - 1]) cube([nut_deep + 1, 10, duct_top - floor_ + 1]);
}

// The duct: a ledge under the fan and a cheek on each side, with a ridge for the clips of the filter frame.
module duct_sides() {
    w = duct_in / 2 + duct_wall;
    translate([long - 1, -w, 0]) cube([duct + 1, 2 * w, fan_z - duct_in / 2]);
    for (s = [0, 1]) mirror([0, s]) linear_extrude(duct_top) {
        translate([long - 1, duct_in / 2]) square([duct + 1, duct_wall]);
        translate([long + ridge_at, w - 0.5])
            polygon([[-ridge[0] / 2, 0], [ridge[0] / 2, 0], [ridge[0] / 2, 0.5], [0.5, ridge[1] + 0.5], [-0.5, ridge[1] + 0.5], [-ridge[0] / 2, 0.5]]);
    }
}

module fan_cuts() {
    translate([long, 0, fan_z]) rotate([0, 90, 0]) {
        translate([0, 0, -20]) cylinder(d = fan_hole, h = 21, $fn = 2 * sides);
        for (y = [-1, 1]) for (z = [-1, 1]) translate([z * fan_pitch / 2, y * fan_pitch / 2, 0]) {
            translate([0, 0, -10]) cylinder(d = m3_clear, h = 11, $fn = sides);
            // A corner of the hexagon points up, so that its roof slopes.
            translate([0, 0, -wall - 10]) hexagon(nut_flats, 10);
        }
    }
}

// Slots at the far end let the air out; each ends in a steep roof.
module outlets() {
    for (i = [-4:4]) translate([-1, i * 9, 16]) rotate([90, 0, 90]) linear_extrude(wall + 2)
        polygon([[-2, 0], [2, 0], [2, 30], [0, 32.4], [-2, 30]]);
}
