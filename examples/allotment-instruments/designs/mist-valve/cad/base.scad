// Base of the mist valve: the PC/104 board and the relay board side by side. Prints as it stands, open side up,
// no supports: the openings in the long walls run up to the rim, the others end in a steep roof.

include <holes.scad>
include <layout.scad>

base();

module base() {
    difference() {
        union() {
            linear_extrude(floor_) outer();
            linear_extrude(high) {
                difference() {
                    outer();
                    inner();
                }
                corners();
            }
            for (m = mounts) translate([m[0], m[1], 0]) post(mount_land, floor_ + standoff);
            for (m = relay_mounts) translate(on_relay(m)) post(6.4, floor_ + relay_up);
            for (b = block_holes) translate(b) post(7, floor_ + relay_up);
        }
        for (c = corner_points) translate([c[0], c[1], high]) drill(insert_hole, insert_depth);
        for (m = mounts) translate([m[0], m[1], floor_ + standoff]) drill(m3_form, post_deep);
        for (m = relay_mounts) translate(concat(on_relay(m), floor_ + relay_up)) drill(m3_form, post_deep);
        for (b = block_holes) translate(concat(b, floor_ + relay_up)) drill(m3_form, post_deep);
        // The strip in which PC/104 lets edge connectors and their plugs pass, 8.26 to 87.63, on both long edges.
        for (y = [-gap - wall - 1, width + gap - 1]) translate([7.5, y, top - 4]) cube([81, wall + 2, 60]);
        usb();
        // Supply and valve leads leave through a notch in the rim.
        translate([outer_box[0][0] - 1, 72, high - 6]) cube([wall + 2, 8, 20]);
        ties();
    }
}

// A post on a sloped foot.
module post(d, up) {
    cylinder(d = d, h = up, $fn = sides);
    translate([0, 0, floor_]) cylinder(d1 = d + 2, d2 = d, h = 1, $fn = sides);
}

// The plug of the relay board: USB-C, at most 12.35 x 6.5, axis 1.63 over the board.
module usb() {
    translate([outer_box[0][0] - 1, on_relay([relay_usb, 0])[1], floor_ + relay_up + relay_thick + 1.63])
        rotate([90, 0, 90]) linear_extrude(wall + 2) polygon([[-7, -4], [7, -4], [7, 4], [2, 9], [-2, 9], [-7, 4]]);
}

// Slots for two cable ties around a stake, in the floor beside the boards.
module ties() {
    for (p = [[-22, 9], [102, 45]]) for (s = [-1, 1]) translate([p[0] - 2, p[1] + s * 5 - 2, -1]) cube([4, 4, floor_ + 2]);
}

// Insert bosses fill the corners; they reach into the walls, not through them.
module corners() {
    middle = (inner_box[0] + inner_box[1]) / 2;
    for (c = corner_points) hull() {
        translate(c) circle(d = insert_boss, $fn = sides);
        translate([c[0] + sign(c[0] - middle[0]) * 2.35, c[1] + sign(c[1] - middle[1]) * 2.35]) square(4.7, center = true);
    }
}
