; a plate cut short for the mail
G21
G90
M83
G28
G1 Z0.2 F600
G1 X20 Y20 E1.2 F1500
G1 X60 Y20 E2.0
