// What the parts of the seed dryer share, in mm. x = 0 is the outlet end, the fan sits outside the other end; y = 0
// is the middle; z = 0 is the bed.

long = 140;
wide = 104;
high = 62;
wall = 2.6;         // also what the fan's screws clamp in front of the nut: M3x16 - fan 10 - 2.6 - nut 2.4 = 1.0 beyond
floor_ = 2.4;

// Axial fan 40 x 40 x 10, holes 32 apart (trade practice; no standard).
fan = 40;
fan_deep = 10;
fan_pitch = 32;
fan_hole = 36;      // opening: leaves 1.6 around the nut pockets
fan_z = 32;         // middle of the fan
mat = 5;            // filter mat before the fan
nut_deep = 2.6;     // pocket: nut ISO 4032 is 2.4 high

duct = fan_deep + mat;          // how far the duct stands out
duct_in = fan + 0.6;            // inside the duct
duct_wall = 2.4;
duct_top = 53;
ridge = [3.4, 1.2];              // on the duct's sides, for the clips: width at its foot, height
ridge_at = 7;                   // its middle, from the end wall

post = [9, 18];                 // corner posts that carry the racks: side, height
inside = [long - 2 * wall, wide - 2 * wall];
