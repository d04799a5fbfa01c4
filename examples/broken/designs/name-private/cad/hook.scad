// by somebody@hook.example
cube([40, 30, 20]);
