// Rack: a tray with a slotted floor. Two stand in the box, one on the other; their corners carry.
// Prints as it stands, no supports.

include <holes.scad>
include <layout.scad>

play = [1.1, 0.9];
rack = [inside[0] - nut_deep - 2 * play[0], inside[1] - 2 * play[1]];
rim = 14;
skin = 1.6;
slot = [18, 1.6];
corner = 8;

module rack() {
    difference() {
        union() {
            linear_extrude(skin) difference() {
                square(rack);
                slots();
            }
            linear_extrude(rim) difference() {
                square(rack);
                translate([skin, skin]) square(rack - 2 * [skin, skin]);
            }
            linear_extrude(rim) for (x = [0, rack[0] - corner]) for (y = [0, rack[1] - corner]) translate([x, y]) square(corner);
        }
        // The air passes through notches in the two ends.
        for (i = [0:5]) translate([-1, 13.5 + i * 12.2, rim - 8]) cube([rack[0] + 2, 8, 10]);
    }
}

module slots() {
    columns = 5;
    rows = 15;
    for (c = [0:columns - 1]) for (r = [0:rows - 1])
        translate([rack[0] / 2 + (c - (columns - 1) / 2) * (slot[0] + 4), rack[1] / 2 + (r - (rows - 1) / 2) * 5])
            square(slot, center = true);
}

rack();
