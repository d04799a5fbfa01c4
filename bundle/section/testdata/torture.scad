// Test plate for the hole census: one of everything that goes wrong.
// Made into torture.stl with: openscad -o torture.stl --export-format binstl torture.scad
e = 1; // cutters reach this far beyond the faces

module through(x, y, d, n) translate([x, y, -e]) cylinder(d = d, h = 8 + 2*e, $fn = n);

difference() {
    cube([120, 60, 8]);

    // A row of 3.2 holes with 8 to 96 sides, through.
    sides = [8, 12, 16, 24, 32, 48, 64, 96];
    for (i = [0:7]) through(8 + 10*i, 52, 3.2, sides[i]);

    // Few sides: what a small circle becomes by default.
    through(90, 52, 3.0, 5);
    through(100, 52, 4.0, 7);

    // Nut pocket, 5.5 across flats, 2.4 deep from above, with a 3.4 hole through its floor.
    translate([10, 40, 8 - 2.4]) cylinder(d = 5.5 / cos(30), h = 2.4 + e, $fn = 6);
    through(10, 40, 3.4, 32);
    // A nut pocket alone, blind, from below.
    translate([22, 40, -e]) cylinder(d = 5.5 / cos(30), h = 3 + e, $fn = 6);

    // Blind from above and from below.
    translate([34, 40, 3]) cylinder(d = 2.5, h = 5 + e, $fn = 24);
    translate([44, 40, -e]) cylinder(d = 4.2, h = 6 + e, $fn = 40);

    // Sealed cavity: no screw can enter.
    translate([54, 40, 2]) cylinder(d = 5, h = 4, $fn = 32);

    // Bore of three steps: 3.2 through, 5.5 for 4 mm, 8 for 2 mm from above.
    through(68, 40, 3.2, 32);
    translate([68, 40, 4]) cylinder(d = 5.5, h = 4 + e, $fn = 48);
    translate([68, 40, 6]) cylinder(d = 8, h = 2 + e, $fn = 64);

    // Countersunk: 3.4 through, 90 degree cone to 6.4 at the top face.
    through(82, 40, 3.4, 48);
    translate([82, 40, 6.5]) cylinder(d1 = 3.4, d2 = 6.4 + 2*e, h = 1.5 + e, $fn = 48);

    // Counterbored from below: 3.4 through, 6.4 for 3 mm.
    through(96, 40, 3.4, 32);
    translate([96, 40, -e]) cylinder(d = 6.4, h = 3 + e, $fn = 32);

    // Cross hole, 25 mm deep from the side, 3 wide, along x.
    translate([-e, 30, 4]) rotate([0, 90, 0]) cylinder(d = 3, h = 25 + e, $fn = 32);
    // … and one along y.
    translate([112, -e, 4]) rotate([-90, 0, 0]) cylinder(d = 2.8, h = 10 + e, $fn = 24);

    // Not round: slot, square, slot turned by 30 degrees, D-shaped shaft hole.
    hull() for (x = [0, 8]) translate([40 + x, 26, -e]) cylinder(d = 4, h = 10, $fn = 32);
    translate([60, 23, -e]) cube([6, 6, 10]);
    translate([76, 26, 0]) rotate(30) hull() for (x = [-4, 4]) translate([x, 0, -e]) cylinder(d = 3, h = 10, $fn = 32);
    difference() {
        through(92, 26, 6, 64);
        translate([94.2, 20, -2*e]) cube([6, 12, 12]);
    }

    // Tilted by 15 degrees about y, 3.2 wide.
    translate([20, 14, 4]) rotate([0, 15, 0]) translate([0, 0, -10]) cylinder(d = 3.2, h = 20, $fn = 32);
    // Tilted by 45 degrees about x and wide: no section across its axis is a whole circle.
    translate([40, 12, 4]) rotate([45, 0, 0]) translate([0, 0, -15]) cylinder(d = 7, h = 30, $fn = 48);

    // Drilled: a 118 degree tip below a 4 mm hole 4 deep.
    translate([60, 10, 4]) cylinder(d = 4, h = 4 + e, $fn = 36);
    translate([60, 10, 4 - 2 / tan(59)]) cylinder(d1 = 0, d2 = 4, h = 2 / tan(59), $fn = 36);

    // A 4 mm hole crossed half way by a 2 mm one from the side.
    through(76, 10, 4, 36);
    translate([76, -e, 4]) rotate([-90, 0, 0]) cylinder(d = 2, h = 10 + e, $fn = 20);

    // Ring groove: round, but something stands inside.
    translate([92, 10, 6]) difference() {
        cylinder(d = 9, h = 2 + e, $fn = 48);
        translate([0, 0, -e]) cylinder(d = 5, h = 5, $fn = 48);
    }
}

// Posts: plain, and one with a screw hole 5 deep.
translate([104, 12, 7]) cylinder(d = 5, h = 7, $fn = 32);
translate([108, 26, 7]) difference() {
    cylinder(d = 7, h = 9, $fn = 48);
    translate([0, 0, 4]) cylinder(d = 2.5, h = 6, $fn = 24);
}
