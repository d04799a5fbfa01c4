// What the parts of the rain tipper share, in mm. The axle runs along y, the bucket tips about it in x; x = y = 0 is
// the middle of the gauge.

across = 100;        // outside of hood and base
wall = 2.4;
inner = across / 2 - wall; // inside radius of the hood
floor_ = 3;
pivot = 20;          // axle above the floor
tip = 22;            // how far the bucket leans either way, in degrees

axle = 3;            // steel rod
axle_turns = 3.3;    // in the bucket
axle_sits = 3.15;    // in the yokes: prints to a snug 3.0

magnet = [6, 3];     // disc
magnet_hole = 6.2;
magnet_deep = 3.2;
post_at = 42.2;      // radius on which posts of the base and pillars of the hood meet
post = 10;
post_high = 4;       // above the floor
post_turns = [30, 150, 270];

foot_at = 38;
foot_turns = [90, 210, 330];
m4_clear = 4.5;      // ISO 273, medium
m4_form = 3.45;      // machine screw into plastic: common practice
sensor = 6.3;        // reed sensor in a tube of 6

bucket_long = 70;
bucket_wide = 22;    // between the side walls
side = 1.6;
rib = [10, 4.6];     // bearing rib on both sides: along x, across
axle_z = 5;          // axle above the bucket's bottom
magnet_z = axle_z + 14;
bucket_over = bucket_wide / 2 + side + rib[1]; // outer face of a rib
yoke_in = bucket_over + 0.8;
yoke = [14, 6];
