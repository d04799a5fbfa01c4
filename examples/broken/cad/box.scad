// Box and lid of the broken designs about screws. Each folder's meshes are this file with other figures, see
// make-meshes.sh; the figures here give a box that is right. Posts stand at (+-14, +-14).

part = "box";        // box, lid, plate
kind = "thread";     // what the posts hold: thread, insert, nut
sides = 24;

post = 10;           // width of the posts
hole = kind == "insert" ? 4.1 : 2.65; // in the posts
deep = 9;
odd_hole = hole;     // of the post at (+14, +14)
odd_deep = deep;
odd_off = 0;         // how far that post stands aside
odd_post = "there";  // there, gone (with its hole), low (its hole stays)
flats = 5.7;         // nut pockets, open below
pocket = 2.6;
odd_pocket = pocket; // 0: none
inner = false;       // two lower posts inside, for the plate

lid_thick = 2;
lid_hole = 3.4;
lid_sides = sides;
lid_odd = "there";   // the hole at (+14, +14): there, gone
sink = "none";       // none, counterbore, countersink
sink_wide = 6.4;
sink_deep = 3;

at = [[-14, -14], [14, -14], [-14, 14], [14, 14]];
high = 14;

if (part == "box") box();
if (part == "lid") lid();
if (part == "plate") plate();

module box() difference() {
    union() {
        translate([-20, -20, 0]) cube([40, 40, 2]);
        difference() {
            translate([-20, -20, 0]) cube([40, 40, high - 2]);
            translate([-18.4, -18.4, 0]) cube([36.8, 36.8, high]);
        }
        for (i = [0:3]) if (i < 3 || odd_post == "there") translate(place(i)) cylinder(d = post, h = high, $fn = sides);
        if (inner) for (x = [-6, 6]) translate([x, 0, 0]) cylinder(d = 7, h = 9, $fn = sides);
    }
    for (i = [0:3]) if (i < 3 || odd_post != "gone") translate(place(i)) {
        d = i == 3 ? odd_hole : hole;
        if (kind == "nut") {
            translate([0, 0, -1]) cylinder(d = 3.4, h = high + 2, $fn = sides);
            p = i == 3 ? odd_pocket : pocket;
            if (p > 0) translate([0, 0, -1]) cylinder(d = flats / cos(30), h = 1 + p, $fn = 6);
        } else translate([0, 0, high - (i == 3 ? odd_deep : deep)]) cylinder(d = d, h = 20, $fn = sides);
    }
    if (inner) for (x = [-6, 6]) translate([x, 0, 2]) cylinder(d = 2.65, h = 20, $fn = sides);
}

function place(i) = [at[i][0] - (i == 3 ? odd_off : 0), at[i][1], 0];

module lid() difference() {
    translate([-20, -20, 0]) cube([40, 40, lid_thick]);
    for (i = [0:3]) if (i < 3 || lid_odd == "there") translate([at[i][0], at[i][1], 0]) {
        translate([0, 0, -1]) cylinder(d = lid_hole, h = lid_thick + 2, $fn = lid_sides);
        if (sink == "counterbore") translate([0, 0, lid_thick - sink_deep]) cylinder(d = sink_wide, h = 20, $fn = sides);
        if (sink == "countersink") translate([0, 0, lid_thick - sink_wide / 2]) cylinder(d1 = 0, d2 = sink_wide + 2, h = sink_wide / 2 + 1, $fn = sides);
    }
}

module plate() difference() {
    translate([-10, -4, 0]) cube([20, 8, 2]);
    for (x = [-6, 6]) translate([x, 0, -1]) cylinder(d = 3.4, h = 4, $fn = sides);
}
