// Jet: the lower half of a nozzle. The hose goes in from below, the O-ring lies in the upper recess, the brass tip
// on it. Prints as it stands, no supports.

include <holes.scad>
include <layout.scad>

high = 14;

difference() {
    linear_extrude(high) rounded([-nozzle / 2, nozzle / 2], 4);
    translate([0, 0, -1]) cylinder(d = 5, h = high + 2, $fn = sides);             // the bore
    translate([0, 0, -1]) cylinder(d = 6.3, h = 9, $fn = sides);                  // hose 6 mm, 8 deep
    translate([0, 0, high - 2.2]) cylinder(d = 9.6, h = 3, $fn = sides);          // O-ring 6 x 1.5 and flange, squeezed by 0.3
    for (p = nozzle_screws) translate([p[0], p[1], high]) drill(m3_form, 9.5);    // M3x10 through 3 reaches 7
}
