// Tray for a relay board of 40 x 24 x 1.6 on four posts 5 high; the fourth post stands nearer, so that the pattern
// has one right turn. x and y are the board's own. One opening in the front wall, for a plug with its axis at x 15.
$fn = 16;
gap = 1;
wall = 2.4;
posts = [[3, 3], [37, 3], [3, 21], [33, 21]];
top = 2 + 5 + 1.6; // of the board

difference() {
    union() {
        difference() {
            translate([-gap - wall, -gap - wall, 0]) cube([40 + 2 * (gap + wall), 24 + 2 * (gap + wall), 20]);
            translate([-gap, -gap, 2]) cube([40 + 2 * gap, 24 + 2 * gap, 20]);
        }
        for (p = posts) translate([p[0], p[1], 1]) cylinder(d = 6.2, h = 6);
    }
    for (p = posts) translate([p[0], p[1], 1]) cylinder(d = 2.7, h = 10);
    translate([15 - 6.75, -5, top + 1.63 - 3.75]) cube([13.5, 4.5, 7.5]);
}
