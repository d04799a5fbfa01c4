// use </home/somebody/cad/lib.scad>
cube([40, 30, 20]);
