// Box of the light plate. z = 0 is the bed. Prints as it stands, open side up, no supports: the openings for the
// sockets begin at the rim, because the board hangs on the lid with its sockets just below it.

include <holes.scad>
include <layout.scad>

box();

module box() {
    difference() {
        union() {
            linear_extrude(floor_) outer();
            linear_extrude(box_high) {
                difference() {
                    outer();
                    inner();
                }
                corners();
            }
        }
        for (c = corner_points) translate([c[0], width - c[1], box_high]) drill(insert_hole, insert_depth);
        to_box() {
            // All five sockets of the front edge share one opening, because their plugs nearly touch.
            translate([1, -gap - wall - 1, 0]) cube([83.5, wall + 2, top + 10.5]);
            // The supply plug, axis at x 71.5.
            translate([65, width + gap - 1, 0]) cube([13, wall + 2, top + 10.5]);
        }
    }
}

// Insert bosses fill the corners; they reach into the walls, not through them.
module corners() {
    middle = (inner_box[0] + inner_box[1]) / 2;
    for (c = corner_points) hull() {
        translate(c) circle(d = insert_boss, $fn = sides);
        translate([c[0] + sign(c[0] - middle[0]) * 2.35, c[1] + sign(c[1] - middle[1]) * 2.35]) square(4.7, center = true);
    }
}
