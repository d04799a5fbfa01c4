package finding

// Codes about what files give away. Pictures and meshes are cleaned on their way into a bundle; the files in
// the folder, and in a public repository, are not.
var _ = register(
	Code{Name: "photo-located", Level: Warning, Rows: []int{93}, Why: "A picture holds the place where it was taken, often somebody's home. The bundle gets a copy without it; the file in the folder, and in a public repository, still has it. An empty block of position fields is no leak."},
	Code{Name: "photo-private", Level: Warning, Rows: []int{93}, Why: "A picture holds the serial number of a camera, or a path or address of somebody's machine. The bundle gets a clean copy; the file in the folder keeps it."},
	Code{Name: "mesh-private", Level: Warning, Rows: []int{94}, Why: "A mesh file holds a path of somebody's machine or the like, as many programs write into 3MF. The bundle gets a mesh written afresh; the file in the folder keeps it."},
	Code{Name: "file-private", Level: Error, Rows: []int{94}, Why: "A source, text or extra file holds a path or address of somebody's machine, or a position. These files go out as they are. Remove it."},
	Code{Name: "name-private", Level: Warning, Rows: []int{94}, Why: "A file holds the name or e-mail address of a person that neither the series nor a credit names. If the person means to be named, take it as it is."},
)
