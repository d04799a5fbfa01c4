// Cheek: one on each side clamps the arm to the case's tongue. This is the left one; the right one is its mirror
// image. Prints as it stands, the face that touches tongue and arm down, no supports.

include <holes.scad>

thick = 4;
tongue_at = [[0, 0], [13, 0]];
tilt = 40;         // of the arm against the case
arm_at = [[26, 16], [26 + 12 * cos(tilt), 16 + 12 * sin(tilt)]];
r = 6.5;
rib = [3, 2];      // along the bend, outside only

cheek();

module cheek() {
    chain = concat(tongue_at, arm_at);
    difference() {
        union() {
            linear_extrude(thick) for (i = [0:len(chain) - 2]) hull() {
                translate(chain[i]) circle(r = r, $fn = sides);
                translate(chain[i + 1]) circle(r = r, $fn = sides);
            }
            d = arm_at[0] - tongue_at[1];
            translate([0, 0, thick - 0.4]) linear_extrude(rib[1] + 0.4) hull()
                for (k = [0.28, 0.72]) translate(tongue_at[1] + k * d) circle(d = rib[0], $fn = 32);
        }
        for (p = chain) translate([p[0], p[1], thick]) drill(m3_clear, thick + 0.5);
    }
}
