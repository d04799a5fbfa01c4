package finding

// Codes about print files: what lies beside a mesh ready to be printed.
var _ = register(
	Code{Name: "toolpath-unreadable", Level: Warning, Why: "The print file named under `toolpath` cannot be simulated: cut short, another kind of file, or with commands (splines, other planes, macros, a second tool) that could move the head in ways nobody here can tell. Plastic and time are then those of the model. Export it again as plain G-code, or remove the line."},
	Code{Name: "toolpath-other", Level: Error, Rows: []int{91}, Why: "The print file prints something else than the part's mesh: its size does not fit. Most often the mesh or the settings were changed and the print file was not made again; a builder who prints it gets the old part. Make it again from the present mesh, with the part's print settings and one copy on the bed."},
	Code{Name: "toolpath-layers", Level: Warning, Why: "The print file is of the part's size and has another number of layers than the part's print settings give, so it was made with other settings, or with layers that vary. What the sheet says of layers is then not what a builder sees. Make it again, or write the settings that it was made with."},
	Code{Name: "toolpath-cut", Level: Warning, Why: "The last line of the print file moves the head and has no end, as in a file that was cut short while it was copied. What is missing cannot be told, so plastic and time may be too low. Compare its size with the original, or export it again."},
)
