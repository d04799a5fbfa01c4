// Plate over the tray.
translate([-3.4, -3.4, 0]) cube([46.8, 30.8, 2]);
