// Case of the vent minder. x and y are the board's own coordinates (origin at its lower left corner, component
// side up), z = 0 is the bed. Prints as it stands, open side up, no supports: every opening in the long walls
// runs up to the rim or ends in a steep roof.

include <holes.scad>
include <layout.scad>

board = "ce"; // ce: 96Boards CE; stack: PC/104

case();

module case() {
    difference() {
        union() {
            linear_extrude(floor_) outer();
            linear_extrude(high()) {
                difference() {
                    outer();
                    inner();
                }
                corners();
            }
            for (m = mounts()) translate([m[0], m[1], 0]) mount_post();
            tongue();
        }
        for (c = corner_points()) translate([c[0], c[1], high()]) drill(insert_hole, insert_depth);
        for (m = mounts()) translate([m[0], m[1], floor_ + standoff()]) drill(mount_form(), mount_deep());
        tongue_holes();
        front();
        back();
        // The servo's lead goes over the tongue, through a notch in the rim.
        translate([outer_box()[0][0] - 1, width() / 2 - 4, max(tongue_high + 0.5, high() - 4.5)]) cube([wall + 2, 8, 20]);
        ties();
    }
}

// Material under a mount: as wide as the board's land allows, on a sloped foot.
module mount_post() {
    cylinder(d = mount_land(), h = floor_ + standoff(), $fn = sides);
    translate([0, 0, floor_]) cylinder(d1 = mount_land() + 2, d2 = mount_land(), h = 1, $fn = sides);
}

// The block that the cheeks clamp. It stands on the bed beside the case.
module tongue() {
    translate([outer_box()[0][0], width() / 2, 0]) linear_extrude(tongue_high) hull() {
        translate([-1, -tongue_wide / 2]) square([2, tongue_wide]);
        for (s = [-1, 1]) translate([-tongue_long + 3, s * (tongue_wide / 2 - 3)]) circle(r = 3, $fn = sides);
    }
}

module tongue_holes() {
    for (s = [-1, 1]) for (x = tongue_at)
        translate([outer_box()[0][0] - x, width() / 2 + s * tongue_wide / 2, tongue_high / 2]) rotate([-s * 90, 0, 0])
            drill(m3_form, side_deep);
}

// CE: all five sockets of the front edge share one opening, because their plugs nearly touch (display 14 to 36,
// USB 36.3 to 46.9 and so on). Its sill lies below the lowest plug body, 2.92 under the board's top.
// Stack: the strip in which PC/104 lets edge connectors and their plugs pass, 8.26 to 87.63, on both long edges.
module front() {
    if (board == "ce") translate([1, -gap - wall - 1, top() - 3.6]) cube([83.5, wall + 2, 60]);
    else translate([7.5, -gap - wall - 1, top() - 4]) cube([81, wall + 2, 60]);
}

// CE: the supply plug, axis at x 71.5, half-way up the 6.5 mm that the socket may be high.
module back() {
    if (board == "ce") translate([71.5, width() + gap + wall + 1, top()]) rotate([90, 0, 0]) linear_extrude(wall + 2)
        polygon([[-6.5, -3], [6.5, -3], [6.5, 7], [3, 11], [-3, 11], [-6.5, 7]]);
    else translate([7.5, width() + gap - 1, top() - 4]) cube([81, wall + 2, 60]);
}

// Slots for two cable ties around a glazing bar, in the floor beyond the board's ends.
module ties() {
    for (x = [inner_box()[0][0] + 4.5, inner_box()[1][0] - 4.5]) for (s = [-1, 1])
        translate([x - 2, width() / 2 + s * 9 - 3, -1]) cube([4, 6, floor_ + 2]);
}
