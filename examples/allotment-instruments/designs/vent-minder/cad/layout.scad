// What case and window share: sizes around the board. `board` must be set by the file that includes this.
// Board figures: 96Boards Consumer Edition 1.0 (p. 24) and PC/104 2.6 (figure 3).

wall = 2.4;
floor_ = 2.4;
gap = 1.0;          // between the board's edge and the long walls; 96Boards allows itself 0.25
end_room = 10;      // beyond the gap at both ends: insert bosses, and room for the leads
tongue_long = 26;
tongue_wide = 24;   // as wide as the arm
tongue_high = 22;
tongue_at = [7, 20]; // holes, from the case's end wall
side_deep = 10.5;   // M3x12 through a 4 mm cheek reaches 8
lid = 2.5;

function ce() = board == "ce";
function length_() = ce() ? 85 : 95.89;
function width() = ce() ? 54 : 90.17;
function thick() = ce() ? 1.575 : 1.57;
// Under the board: 3.4 (CE) or 2.54, but 10.67 for the pins of the stacking bus. CE gets 7 so that the screw holds.
function standoff() = ce() ? 7 : 11.5;
// Over the board: 7.0 (CE) or 11.05, and the plugs on its headers.
function headroom() = ce() ? 16 : 20;
function top() = floor_ + standoff() + thick();
function high() = top() + headroom();
function mounts() = ce() ? [[4, 18.5], [81, 18.5], [4, 50], [81, 50]]
                         : [[5.08, 8.89], [5.08, 82.55], [90.81, 5.08], [90.81, 85.09]];
function mount_land() = ce() ? 5.0 : 6.35;
function mount_form() = ce() ? m25_form : m3_form;
function mount_deep() = ce() ? 8 : 10.5; // M2.5x8 reaches 6.4, M3x10 reaches 8.4

// PC/104 lets plugs pass the bus end by 12.7, so that end is longer.
function inner_box() = [[-gap - end_room, -gap], [length_() + gap + (ce() ? end_room : 12.5), width() + gap]];
function outer_box() = [inner_box()[0] - [wall, wall], inner_box()[1] + [wall, wall]];
function corner_points() = [for (x = [inner_box()[0][0] + 4, inner_box()[1][0] - 4])
                            for (y = [inner_box()[0][1] + 4, inner_box()[1][1] - 4]) [x, y]];

module rounded(box, r) {
    hull() for (x = [box[0][0] + r, box[1][0] - r]) for (y = [box[0][1] + r, box[1][1] - r])
        translate([x, y]) circle(r = r, $fn = sides);
}

module outer() { rounded(outer_box(), 4); }
module inner() { rounded(inner_box(), 1.6); }

// Insert bosses fill the corners; they reach into the walls, not through them.
module corners() {
    for (c = corner_points()) hull() {
        translate(c) circle(d = insert_boss, $fn = sides);
        translate([c[0] + sign(c[0] - length_() / 2) * 2.35, c[1] + sign(c[1] - width() / 2) * 2.35]) square(4.7, center = true);
    }
}
