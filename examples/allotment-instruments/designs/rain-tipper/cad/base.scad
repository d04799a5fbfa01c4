// Base of the rain tipper: yokes for the axle, stops, posts with magnets, holes for the feet.
// Prints as it stands, no supports; the small holes across the yokes are bridged.

include <holes.scad>
include <layout.scad>

sensor_z = floor_ + pivot + magnet_z - axle_z;
top = [sensor_z + 7, floor_ + pivot + 7]; // height of the yoke with the sensor (+y), and of the other

// Where the bucket's bottom touches a stop's outer edge, and how high that is, when it leans.
touch = 28;
stop_x = touch * cos(tip) - axle_z * sin(tip);
stop_high = pivot - touch * sin(tip) - axle_z * cos(tip);

module base() {
    difference() {
        union() {
            cylinder(d = across, h = floor_, $fn = 128);
            spigot();
            for (a = post_turns) rotate(a) translate([post_at, 0, 0]) cylinder(d = post, h = floor_ + post_high, $fn = sides);
            yoke_post(1, top[0]);
            yoke_post(-1, top[1]);
            for (s = [0, 1]) mirror([s, 0]) translate([stop_x - 4, -9, floor_ - 1]) cube([4, 18, stop_high + 1]);
        }
        for (a = post_turns) rotate(a) translate([post_at, 0, floor_ + post_high]) drill(magnet_hole, magnet_deep);
        for (a = foot_turns) rotate(a) translate([foot_at, 0, floor_]) drill(m4_clear, floor_ + 1);
        translate([0, 60, floor_ + pivot]) rotate([90, 0, 0]) cylinder(d = axle_sits, h = 120, $fn = sides);
        translate([0, 60, sensor_z]) rotate([90, 0, 0]) cylinder(d = sensor, h = 60, $fn = sides);
        // The water leaves at both ends, the cable beside the sensor.
        for (s = [-1, 1]) translate([s * 39.5 - 1.5, -9, -1]) cube([3, 18, floor_ + 2]);
        translate([12, 33, -1]) cube([10, 5, floor_ + 2]);
    }
}

// Finds the hood from inside; gaps where the hood's pillars are.
module spigot() {
    translate([0, 0, floor_ - 1]) linear_extrude(6) difference() {
        circle(r = inner - 0.3, $fn = 128);
        circle(r = inner - 2.3, $fn = 128);
        for (a = post_turns) rotate(a) translate([30, -post / 2 - 1.5]) square([30, post + 3]);
    }
}

// A yoke with a gusset outside.
module yoke_post(s, high) {
    mirror([0, s < 0 ? 1 : 0]) {
        translate([-yoke[0] / 2, yoke_in, floor_ - 1]) cube([yoke[0], yoke[1], high - floor_ + 1]);
        translate([-1.5, yoke_in + yoke[1] - 1, 0]) rotate([90, 0, 90]) linear_extrude(3)
            polygon([[0, floor_ - 1], [9, floor_ - 1], [9, floor_], [1, 17], [0, 17]]);
    }
}

base();
