// Foot: three carry the base. Printed with the wide end down, no supports.

include <holes.scad>
include <layout.scad>

high = 24;
deep = 15.5;         // M4x16 through a 3 mm floor reaches 13

difference() {
    union() {
        cylinder(d = 22, h = 3, $fn = sides);
        translate([0, 0, 3]) cylinder(d1 = 22, d2 = 16, h = high - 3, $fn = sides);
    }
    translate([0, 0, high]) drill(m4_form, deep);
}
