// Hole sizes as drawn, in mm. A printed hole comes out about 0.15 mm narrower than drawn (the series'
// print.hole_allowance), and every figure here still fits after that. Holes are drawn with 64 sides.
// The same file lies in every design of the season, so that a design's folder is complete by itself.

sides = 64;

// Clearance holes: ISO 273, medium series.
m2_clear = 2.4;
m25_clear = 2.9;
m3_clear = 3.4;

// Machine screws that form their thread in the plastic: common practice, no source; the wide end of what is usual.
m2_form = 1.75;
m25_form = 2.2;
m3_form = 2.65;

// Heat-set insert M3, outer diameter 4.6, length 5.7: hole 4.0 to 4.1, one millimetre deeper than the insert,
// boss twice the insert's diameter (makers' tables; common practice).
insert_hole = 4.1;
insert_depth = 6.7;
insert_boss = 9.2;

// Nut ISO 4032 M3: 5.5 across flats, 2.4 high. Pocket 0.2 wider.
nut_flats = 5.7;
nut_high = 2.4;

// A drill hole along +z from z = 0 down by `deep`, reaching a little above so that the cut is clean.
module drill(d, deep) { translate([0, 0, -deep]) cylinder(d = d, h = deep + 0.5, $fn = sides); }

// A hexagonal prism with the given distance across flats, one flat facing +y.
module hexagon(flats, high) { cylinder(d = flats / cos(30), h = high, $fn = 6); }
