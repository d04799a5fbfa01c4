// What lid and box share. x and y are the board's own coordinates (origin at its lower left corner, component
// side up), z = 0 is the outer face of the lid. Board figures: 96Boards Consumer Edition 1.0 (p. 24).

wall = 2.4;
floor_ = 2.4;       // of the box
lid = 2.5;
gap = 1.0;          // between the board's edge and the long walls; 96Boards allows itself 0.25
end_room = 10;      // beyond the gap at the right end: insert bosses
sensor_room = 26;   // at the left end: insert bosses, and the sensor board
length_ = 85;
width = 54;
thick = 1.575;
standoff = 7;       // 3.4 would do for the parts underneath; the screw wants 7
top = lid + standoff + thick;
box_high = 24;      // leaves 13 over the board for the plug on its header

mounts = [[4, 18.5], [81, 18.5], [4, 50], [81, 50]];
mount_land = 5.0;
mount_deep = 8;     // M2.5x8 reaches 6.4

// Sensor board 18 x 14 x 1.6: two holes 13 apart, on its middle line.
sensor_at = [-14, 27];
sensor_holes = [[sensor_at[0], sensor_at[1] - 6.5], [sensor_at[0], sensor_at[1] + 6.5]];
sensor_post = 4;
sensor_deep = 5.4;  // M2x6 reaches 4.4

inner_box = [[-gap - sensor_room, -gap], [length_ + gap + end_room, width + gap]];
outer_box = [inner_box[0] - [wall, wall], inner_box[1] + [wall, wall]];
corner_points = [for (x = [inner_box[0][0] + 4, inner_box[1][0] - 4])
                 for (y = [inner_box[0][1] + 4, inner_box[1][1] - 4]) [x, y]];

// From the lid's frame to the box's, where z = 0 is the outer face of the floor: turned about x.
module to_box() { translate([0, width, box_high + lid]) rotate([180, 0, 0]) children(); }

module rounded(box, r) {
    hull() for (x = [box[0][0] + r, box[1][0] - r]) for (y = [box[0][1] + r, box[1][1] - r])
        translate([x, y]) circle(r = r, $fn = sides);
}

module outer() { rounded(outer_box, 4); }
module inner() { rounded(inner_box, 1.6); }
