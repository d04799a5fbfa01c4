// Plate for a fan with a frame of 30: holes 24 apart, and an opening, which `hole = 0` leaves out.
$fn = 16;
hole = 20;

difference() {
    translate([-20, -20, 0]) cube([40, 40, 3]);
    for (x = [-12, 12], y = [-12, 12]) translate([x, y, -1]) cylinder(d = 3.4, h = 5);
    if (hole > 0) translate([0, 0, -1]) cylinder(d = hole, h = 5, $fn = 24);
}
