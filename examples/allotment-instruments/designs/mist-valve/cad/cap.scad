// Cap: holds the brass tip on the O-ring. Prints with its outer face down, no supports.

include <holes.scad>
include <layout.scad>

high = 3;

difference() {
    linear_extrude(high) rounded([-nozzle / 2, nozzle / 2], 4);
    translate([0, 0, -1]) cylinder(d = 6.3, h = high + 2, $fn = sides); // brass tip, shank 6
    for (p = nozzle_screws) translate([p[0], p[1], high]) drill(m3_clear, high + 0.5);
}
