// Pictures of the finished stake, made from the mesh that goes out. `view` picks one.
view = "front";
clay = "#8a5a44";
straw = "#e3cf8a";
soil = "#9c8f80";

module stake(c) { color(c) import("../meshes/soil-stake.stl"); }

// One stake upright in a block of soil up to its 50 mm notch, one leaning on the block.
if (view == "front") {
    color(soil) translate([-45, -14, -54]) cube([120, 44, 54]);
    translate([-12, 10, -50]) rotate([90, -90, 0]) stake(straw);
    translate([46, -63, -54]) rotate([66, 0, 0]) rotate([0, 0, 90]) stake(clay);
}
