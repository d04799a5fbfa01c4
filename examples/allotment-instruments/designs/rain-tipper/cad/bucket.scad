// Tipping bucket: two chambers with floors that rise 15 degrees outwards; leaning 22 degrees, one of them drains.
// Prints as it stands, no supports. Both sides are alike, so it cannot be hung the wrong way round.

include <holes.scad>
include <layout.scad>

slope = 15;
high = 27;           // of the partition
middle = 8.4;        // floor at the partition
partition = 2;
end = 10;            // rim of the side walls at the ends, above the floor there

half = bucket_long / 2;
floor_end = middle + half * tan(slope);

module bucket() {
    difference() {
        union() {
            // Floors and partition, one profile across the width.
            across(bucket_wide + 2 * side) polygon([[-half, 0], [half, 0], [half, floor_end], [partition / 2, middle],
                [partition / 2, high], [-partition / 2, high], [-partition / 2, middle], [-half, floor_end]]);
            for (s = [-1, 1]) translate([0, s * (bucket_wide + side) / 2, 0]) across(side) wall_profile();
            for (s = [0, 1]) mirror([0, s]) translate([-rib[0] / 2, bucket_wide / 2 + 0.6, 0]) cube([rib[0], side - 0.6 + rib[1], 25]);
        }
        translate([0, 60, axle_z]) rotate([90, 0, 0]) cylinder(d = axle_turns, h = 120, $fn = sides);
        for (s = [-1, 1]) translate([0, s * bucket_over, magnet_z]) rotate([-s * 90, 0, 0]) drill(magnet_hole, magnet_deep);
    }
}

module wall_profile() {
    polygon([[-half, 0], [half, 0], [half, floor_end + end - 6], [half - 6, floor_end + end - 4], [6, high], [-6, high],
             [-half + 6, floor_end + end - 4], [-half, floor_end + end - 6]]);
}

module across(w) { translate([0, w / 2, 0]) rotate([90, 0, 0]) linear_extrude(w) children(); }

bucket();
