// What base and lid share. x and y are the PC/104 board's own coordinates (origin at its lower left corner,
// component side up), z = 0 is the bed. Board figures: PC/104 2.6 (figure 3); relay board: boards/relay.yaml.

wall = 2.4;
floor_ = 2.4;
gap = 1.0;          // between the board's edge and the long walls
lid = 2.5;
length_ = 95.89;
width = 90.17;
thick = 1.57;
standoff = 11.5;    // 2.54 for the parts underneath, but 10.67 for the pins of the stacking bus
top = floor_ + standoff + thick;
high = top + 20;    // 11.05 for the board's parts, and the relay board's plugs

mounts = [[5.08, 8.89], [5.08, 82.55], [90.81, 5.08], [90.81, 85.09]];
mount_land = 6.35;

// Relay board, turned by a quarter: its own x runs along y, its rear edge with the USB socket looks to -x.
relay_at = [-8, 18];
relay_up = 9;       // posts; M3x10 reaches 8.4
relay_thick = 1.6;
relay_mounts = [[3, 3], [47, 3], [3, 23], [43, 23]];
relay_usb = 16;     // axis of the socket along the board's own x
function on_relay(p) = [relay_at[0] - p[1], relay_at[1] + p[0]];

// Terminal block with two flanges 3 thick, holes 16 apart.
block_holes = [[-29, 76], [-13, 76]];

post_deep = 10.4;   // two more than M3x10 reaches through 1.6

inner_box = [[-36, -gap], [length_ + gap + 12.5, width + gap]]; // PC/104 lets plugs pass the bus end by 12.7
outer_box = [inner_box[0] - [wall, wall], inner_box[1] + [wall, wall]];
corner_points = [for (x = [inner_box[0][0] + 4, inner_box[1][0] - 4])
                 for (y = [inner_box[0][1] + 4, inner_box[1][1] - 4]) [x, y]];

// Nozzle: jet and cap share two screws.
nozzle = [30, 16];
nozzle_screws = [[-11, 0], [11, 0]];

module rounded(box, r) {
    hull() for (x = [box[0][0] + r, box[1][0] - r]) for (y = [box[0][1] + r, box[1][1] - r])
        translate([x, y]) circle(r = r, $fn = sides);
}

module outer() { rounded(outer_box, 4); }
module inner() { rounded(inner_box, 1.6); }
