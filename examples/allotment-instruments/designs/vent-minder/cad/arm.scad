// Arm: carries the servo (23 x 12, flange 32 with two screws 27.8 apart). Prints as it stands, no supports.
// x runs from the nose, which the cheeks clamp, to the servo's end.

include <holes.scad>

wide = 24;          // as wide as the case's tongue
high = 22;
nose_at = [8, 20];  // cheek screws
side_deep = 10.5;   // M3x12 through a 4 mm cheek reaches 8
servo = [23.4, 12.8]; // pocket: the body is 22.8 x 12.2
servo_at = 45.7;
servo_screws = 27.8;
servo_deep = 8.5;   // M2x8 through a 2.5 mm flange reaches 5.5
long = 66;

arm();

module arm() {
    difference() {
        linear_extrude(high) difference() {
            hull() {
                for (s = [-1, 1]) translate([6, s * (wide / 2 - 6)]) circle(r = 6, $fn = sides);
                for (s = [-1, 1]) translate([long - 3, s * (wide / 2 - 3)]) circle(r = 3, $fn = sides);
            }
            translate([servo_at, 0]) square(servo, center = true);
        }
        for (s = [-1, 1]) for (x = nose_at) translate([x, s * wide / 2, high / 2]) rotate([-s * 90, 0, 0])
            drill(m3_form, side_deep);
        for (s = [-1, 1]) translate([servo_at + s * servo_screws / 2, 0, high]) drill(m2_form, servo_deep);
        // The lead leaves the servo low at its outer end: a groove with a steep roof, below the screw.
        translate([servo_at + servo[0] / 2, 3, 0]) rotate([90, 0, 0]) linear_extrude(6)
            polygon([[-1, -1], [3, -1], [3, 8], [-1, 12.6]]);
    }
}
