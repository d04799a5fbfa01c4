// Filter frame: holds the mat before the fan and clips over the ridges of the duct.
// Printed with the grille down, the clips up, no supports: the hooks' undersides are steeper than 45 degrees.
// x is across the duct, y is up along it.

include <holes.scad>
include <layout.scad>

plate = 2.4;
size = [2 * (duct_in / 2 + duct_wall) + 8, 48];
clip = [1.6, 16];      // thickness and width
play = 0.2;            // between a clip and the ridge that it snaps over
hook = 1.0;            // how far a hook reaches in, so 0.8 behind the ridge

frame();

module frame() {
    linear_extrude(plate) difference() {
        translate([-size[0] / 2, -size[1] / 2]) square(size);
        for (i = [-3:3]) translate([i * 5.2, 0]) square([3.2, 34], center = true);
    }
    for (s = [0, 1]) mirror([s, 0]) clip();
}

// The hook's underside lies 0.3 behind the slope of the ridge.
module clip() {
    x = duct_in / 2 + duct_wall + ridge[1] + play;
    tip = plate + duct - ridge_at + ridge[0] / 2 - 0.1;
    translate([x, clip[1] / 2, 0]) rotate([90, 0, 0]) linear_extrude(clip[1])
        polygon([[0, plate - 0.4], [clip[0], plate - 0.4], [clip[0], tip + 1.4], [0.4, tip + 1.4],
                 [-hook, tip + 0.4], [-hook, tip], [0, tip - 1.2 * hook]]);
}
