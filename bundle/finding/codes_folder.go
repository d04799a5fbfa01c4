package finding

// Codes about the folder and what lies in it.
var _ = register(
	Code{Name: "file-unlisted", Level: Warning, Rows: []int{35, 39, 49, 77}, Why: "A mesh, a photo or a print file is in the design's folder and the manifest does not name it: it was forgotten, or is left over from an older state. It will not go out. Name it, or move it to refs/, which is never looked at."},
	Code{Name: "name-case", Level: Error, Rows: []int{49}, Why: "Two files of the folder differ in capitals only. On Windows and macOS the second overwrites the first when they are unpacked, and nobody knows which one is left. Keep one, or rename one."},
	Code{Name: "file-pointer", Level: Error, Rows: []int{44}, Why: "Large-file storage keeps big files elsewhere and leaves a small text in their place. That text would go out instead of the file. Fetch the file itself."},
	Code{Name: "mesh-twice", Level: Warning, Rows: []int{45, 46, 50}, Why: "Two parts of the design are one shape: the same file, or another one with the same surface, moved or turned. Most often one was exported over the other, or both times the same body was selected. Export the right one; if they are the same part, list it once with a count."},
	Code{Name: "side-twice", Level: Error, Rows: []int{46}, Why: "The two sides of a pair, left and right, are one shape instead of mirror images. A builder would have two left hands. Export the other side, or let the tool make it: `mirrored: 1`."},
	Code{Name: "side-unmirrored", Level: Warning, Rows: []int{46}, Why: "The two sides of a pair have the same size and nearly the same volume, but are not mirror images: one was exported after a change and the other before it. Export both again, or let the tool make the second: `mirrored: 1`."},
	Code{Name: "side-missing", Level: Warning, Rows: []int{41, 42, 70}, Why: "A part is named for one side and the other side is not listed. Print services cannot mirror a part, and beginners do not know that they should. Add `mirrored: 1`, or the other part."},
	Code{Name: "variant-same", Level: Error, Rows: []int{48}, Why: "Two variants should differ and do not: their meshes are one shape, or nothing at all differs between them. One of the files was exported from the wrong state. Where both are meant to share a mesh, name the same file for both."},
	Code{Name: "mesh-stale", Level: Note, Rows: []int{51}, Why: "The source of a mesh was changed after the mesh was exported, by the dates of the history. What people print is not what the source shows. Export it again, or commit both together when the change does not touch it."},
	Code{Name: "picture-old", Level: Warning, Rows: []int{83}, Why: "A picture is older than the mesh of a part that it shows, by the dates of the history: it may show a state that no longer exists. Take it again, or take it as it is when the change does not show."},
	Code{Name: "name-bare", Level: Warning, Rows: []int{79}, Why: "A part's name is a number or a word that fits anything, and it has no title. Who holds the print in hand does not know what it is for. Name it after what it does."},
	Code{Name: "title-twice", Level: Warning, Rows: []int{78, 79}, Why: "Two parts have the same title, so the sheet and the list cannot tell them apart. Change one."},
)
