// Lid of the seed dryer. Printed with the outer face down, the lip up, no supports.

include <holes.scad>
include <layout.scad>

plate = 2.4;
lip = [1.8, 4];
play = 0.35;

module lid() {
    linear_extrude(plate) translate([0, -wide / 2]) square([long, wide]);
    translate([0, 0, plate - 0.4]) linear_extrude(lip[1] + 0.4) difference() {
        inset(wall + play);
        inset(wall + play + lip[0]);
    }
    // A cross of ribs keeps the plate flat.
    translate([0, 0, plate - 0.4]) linear_extrude(2.4) {
        translate([wall + play + 0.5, -0.9]) square([long - 2 * (wall + play + 0.5), 1.8]);
        translate([long / 2 - 0.9, -wide / 2 + wall + play + 0.5]) square([1.8, wide - 2 * (wall + play + 0.5)]);
    }
}

module inset(by) { translate([by, -wide / 2 + by]) square([long - 2 * by, wide - 2 * by]); }

lid();
