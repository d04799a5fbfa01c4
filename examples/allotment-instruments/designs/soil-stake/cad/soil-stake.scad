// Soil stake: a planting-depth gauge in one piece. Prints flat as it stands here, no supports.
// x runs from the tip (0) to the head; the depth scale counts from the tip.

length = 196;        // tip to head; fits a 220 mm bed straight, a 180 mm bed only across the corner
width = 26;
thick = 3.2;         // sixteen layers of 0.2
point = 42;          // length of the point
scale_to = 120;      // the scale ends here, in millimetres of depth
twine = 4.5;         // hole for the twine that finds it again
panel = [52, 15, 0.8]; // field for a pencil: length, width, depth
rib = [7, 2.2];      // width and height of the stiffening rib; its sides lean in by 45 degrees
$fn = 64;

module outline() {
    difference() {
        hull() {
            translate([2, 0]) circle(d = 4);
            translate([point, -width / 2]) square([1, width]);
            for (s = [-1, 1]) translate([length - 8, s * (width / 2 - 8)]) circle(r = 8);
        }
        // A notch in both edges each 10 mm, deep at 50 and 100. Above the point only: the point stays whole.
        for (x = [50:10:scale_to]) for (s = [-1, 1]) notch(x, s, x % 50 == 0 ? 4.5 : 2);
        translate([length - 10, 0]) circle(d = twine);
    }
}

// A 90 degree notch in the edge: prints sharp in either direction and sheds soil.
module notch(x, side, depth) {
    translate([x, side * width / 2]) rotate(45) square(depth * sqrt(2), center = true);
}

// Bars across the blade at 20, 30 and 40 mm, where the edges are the point's and carry no notch.
module bars() {
    for (x = [20:10:40]) translate([x - 0.8, -0.5 * width * (x - 6) / point, thick - 0.4])
        cube([1.6, width * (x - 6) / point, 1]);
}

module stake() {
    difference() {
        linear_extrude(thick) outline();
        translate([scale_to + 7, -panel[1] / 2, thick - panel[2]]) cube([panel[0], panel[1], 1]);
    }
    bars();
    // The rib runs up the middle of the scale. It starts inside the plate, so that the union has no touching faces.
    rotate([90, 0, 90]) translate([0, 0, 15]) linear_extrude(scale_to - 15)
        polygon([[-rib[0] / 2, thick - 0.4], [rib[0] / 2, thick - 0.4], [rib[0] / 2, thick],
                 [rib[0] / 2 - rib[1], thick + rib[1]], [-rib[0] / 2 + rib[1], thick + rib[1]], [-rib[0] / 2, thick]]);
}

stake();
