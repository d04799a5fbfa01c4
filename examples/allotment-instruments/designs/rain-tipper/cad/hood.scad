// Hood: funnel and housing in one. Printed with the rim down, no supports: the funnel rises from the wall at 48
// degrees and ends in the spout, the pillars stand on the funnel's outside.

include <holes.scad>
include <layout.scad>

high = 116;
rim = 8;             // straight part above the funnel
skin = 2.4;          // of the funnel
spout = [6, 10.8];   // bore and outside
spout_end = 66;
rise = 1.1;          // of the funnel: a little steeper than 45 degrees
r = across / 2;

module hood() {
    difference() {
        union() {
            rotate_extrude($fn = 128) profile();
            for (a = post_turns) rotate(a) pillar();
        }
        for (a = post_turns) rotate(a) translate([post_at, 0, high - post_high - 0.3]) drill(magnet_hole, magnet_deep);
    }
}

// Right half of the section: wall, funnel and spout.
module profile() {
    bore = spout[0] / 2;
    out = spout[1] / 2;
    throat = rim + (inner - bore) * rise;           // where the funnel meets the bore
    fold = rim + skin * sqrt(1 + rise * rise);         // where the funnel's outside meets the wall
    polygon([[inner, 0], [r, 0], [r, high], [inner, high], [inner, fold], [out, fold + (inner - out) * rise],
             [out, spout_end], [bore, spout_end], [bore, throat], [inner, rim]]);
}

// From the funnel's outside up along the wall, ending over the base's post with 0.3 to spare.
module pillar() {
    intersection() {
        linear_extrude(high - post_high - 0.3) hull() {
            translate([post_at, 0]) circle(d = post, $fn = sides);
            translate([inner, -post / 2]) square([1, post]);
        }
        rotate_extrude($fn = 128) polygon([[20, rim + skin + (inner - 20) * rise], [20, high], [inner + 1, high], [inner + 1, rim + skin - rise]]);
    }
}

hood();
