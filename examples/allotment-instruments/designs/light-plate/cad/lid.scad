// Clear lid of the light plate: the board hangs on it, and the sensor looks out through it. Prints as it stands,
// the outer face down, no supports.

include <holes.scad>
include <layout.scad>

lip = [1.6, 1.5]; // width and height
play = 0.3;       // between lip and wall

lid_();

module lid_() {
    difference() {
        union() {
            linear_extrude(lid) outer();
            for (m = mounts) translate([m[0], m[1], 0]) post(mount_land, lid + standoff);
            for (s = sensor_holes) translate([s[0], s[1], 0]) post(5, lid + sensor_post);
            // Two bars find the box's end walls. None at the long walls: their openings begin at the rim.
            for (x = [inner_box[0][0] + play, inner_box[1][0] - play - lip[0]])
                translate([x, inner_box[0][1] + 11, lid - 0.4]) cube([lip[0], width + 2 * gap - 22, lip[1] + 0.4]);
        }
        for (c = corner_points) translate([c[0], c[1], lid]) drill(m3_clear, lid + 0.5);
        for (m = mounts) translate([m[0], m[1], lid + standoff]) drill(m25_form, mount_deep);
        for (s = sensor_holes) translate([s[0], s[1], lid + sensor_post]) drill(m2_form, sensor_deep);
    }
}

// A post on a sloped foot.
module post(d, high) {
    cylinder(d = d, h = high, $fn = sides);
    translate([0, 0, lid]) cylinder(d1 = d + 2, d2 = d, h = 1, $fn = sides);
}
