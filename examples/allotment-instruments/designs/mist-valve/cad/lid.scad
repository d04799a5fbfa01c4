// Lid of the mist valve. Prints with the outer face down; two bars that find the end walls point up.

include <holes.scad>
include <layout.scad>

lip = [1.6, 1.5]; // width and height
play = 0.3;       // between lip and wall

difference() {
    union() {
        linear_extrude(lid) outer();
        for (x = [inner_box[0][0] + play, inner_box[1][0] - play - lip[0]])
            translate([x, 22, lid - 0.4]) cube([lip[0], width - 44, lip[1] + 0.4]);
    }
    for (c = corner_points) translate([c[0], c[1], lid]) drill(m3_clear, lid + 0.5);
}
