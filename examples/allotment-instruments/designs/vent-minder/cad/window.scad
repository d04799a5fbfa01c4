// Clear cover of the case. Printed with the outer face down; the lip that finds the case points up.

include <holes.scad>
include <layout.scad>

board = "ce"; // ce: 96Boards CE; stack: PC/104
lip = [1.6, 1.5]; // width and height
play = 0.3;       // between lip and wall

window();

module window() {
    difference() {
        union() {
            linear_extrude(lid) outer();
            translate([0, 0, lid - 0.4]) linear_extrude(lip[1] + 0.4) bars();
        }
        for (c = corner_points()) translate([c[0], c[1], lid]) drill(m3_clear, lid + 0.5);
    }
}

// Four bars inside the walls, clear of the insert bosses.
module bars() {
    b = [inner_box()[0] + [play, play], inner_box()[1] - [play, play]];
    for (y = [b[0][1], b[1][1] - lip[0]]) translate([b[0][0] + 11, y]) square([b[1][0] - b[0][0] - 22, lip[0]]);
    for (x = [b[0][0], b[1][0] - lip[0]]) translate([x, b[0][1] + 11]) square([lip[0], b[1][1] - b[0][1] - 22]);
}
