// An enclosure base, 91 x 62 x 24, as a maker draws one.
// Made into enclosure.stl with: openscad -o enclosure.stl --export-format binstl enclosure.scad
module rounded(x, y, z, r) hull() for (i = [r, x - r], j = [r, y - r]) translate([i, j, 0]) cylinder(r = r, h = z, $fn = 48);
module at(list, z) for (p = list) translate([p[0], p[1], z]) children();

corners = [[7, 7], [84, 7], [7, 55], [84, 55]];
mounts = [[20, 15], [70, 15], [20, 47], [70, 47]];

difference() {
    union() {
        difference() {
            rounded(91, 62, 24, 4);
            translate([2.4, 2.4, 2]) rounded(91 - 4.8, 62 - 4.8, 30, 1.6);
        }
        at(corners, 1) cylinder(d = 7, h = 19, $fn = 64);
        at(mounts, 1) cylinder(d = 6, h = 6, $fn = 40);
        translate([45, 30, 1]) rounded(8, 8, 5, 2);
    }
    // Lid screws: 3.4 through, 6.4 x 3 counterbore from below.
    at(corners, -1) { cylinder(d = 3.4, h = 30, $fn = 48); cylinder(d = 6.4, h = 4, $fn = 48); }
    // Board screws: 2.5, 5 deep from above.
    at(mounts, 2) cylinder(d = 2.5, h = 6, $fn = 32);
    // Holes in the walls along x and y.
    for (y = [20, 40]) translate([-1, y, 12]) rotate([0, 90, 0]) cylinder(d = 3, h = 5, $fn = 32);
    translate([80, 31, 14]) rotate([0, 90, 0]) cylinder(d = 4.5, h = 15, $fn = 48);
    translate([30, -1, 12]) rotate([-90, 0, 0]) cylinder(d = 7, h = 5, $fn = 64);
    // Ports: one with a recess for the over-mould, a stadium, a notch open at the top.
    translate([50, -1, 8]) cube([9.6, 5, 3.6]);
    translate([50 - 1.4, -1, 8 - 1.4]) cube([12.4, 2, 6.5]);
    hull() for (x = [0, 6]) translate([70 + x, -1, 10]) rotate([-90, 0, 0]) cylinder(d = 3.6, h = 5, $fn = 32);
    translate([20, 60, 12]) cube([14, 5, 20]);
    // Vents in the floor.
    for (i = [0:5]) hull() for (y = [25, 38]) translate([28 + 3*i, y, -1]) cylinder(d = 1.6, h = 5, $fn = 16);
    // Nut pocket in the block, 5.7 across flats, above a 3.2 hole.
    translate([49, 34, -1]) cylinder(d = 3.2, h = 10, $fn = 24);
    translate([49, 34, 3.5]) cylinder(d = 5.7 / cos(30), h = 10, $fn = 6);
    // A 5 mm hole with a chamfer of half a millimetre.
    translate([60, 40, -1]) cylinder(d = 5, h = 5, $fn = 48);
    translate([60, 40, -0.01]) cylinder(d1 = 6.02, d2 = 5, h = 0.51, $fn = 48);
}
