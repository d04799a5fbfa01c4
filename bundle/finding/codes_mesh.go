package finding

// Codes about meshes: whether each is one sound solid of the right size that prints as it stands. What was
// printed happily in spite of it, among published designs, is a warning or a note.
var _ = register(
	Code{Name: "mesh-inside-out", Level: Error, Rows: []int{74}, Why: "All faces look inwards, so the solid is a hole in an infinite block to a strict reader. Turn the normals in CAD and export again."},
	Code{Name: "mesh-flipped", Level: Warning, Rows: []int{74}, Why: "Neighbouring faces disagree which side is outside. Programs that slice guess, and may fill or leave out the place. Make the normals agree and export again."},
	Code{Name: "mesh-doubled", Level: Warning, Rows: []int{74}, Why: "Triangles lie there twice: a body was exported together with a copy of itself. Some programs then print walls twice, others leave the body out. Remove the copy."},
	Code{Name: "mesh-overshared", Level: Warning, Rows: []int{74}, Why: "Edges belong to more than two faces: two bodies, or two corners of one, touch along a line. Most programs print it; some part or join the bodies there. Let them overlap or leave a gap."},
	Code{Name: "mesh-degenerate", Level: Note, Rows: []int{74}, Why: "Triangles without area are left over from rounding. They change nothing in print."},
	Code{Name: "shell-inside", Level: Warning, Rows: []int{53}, Why: "A body lies inside another one: a bearing, nut or board that was shown in the drawing went along into the export. It is printed as a lump in the cavity, or fuses with it. Hide it and export again."},
	Code{Name: "shell-floating", Level: Warning, Rows: []int{75}, Why: "A body in the file touches neither the bed nor the others, so it would be printed into the air. Most often it is a scrap of a cut or a letter that missed its face."},
	Code{Name: "shell-overlap", Level: Note, Rows: []int{75}, Why: "The mesh is made of bodies that reach into each other and were not joined. Programs that slice join them, mostly as meant; the volume measured counts the shared part twice."},
	Code{Name: "shell-extra", Level: Warning, Rows: []int{45, 75}, Why: "A file holds several separate bodies. Then copies, mass and colour of each cannot be told, and nobody can print one of them again. Export one part to a file. A set that belongs together may be taken as it is."},
	Code{Name: "unit-wrong", Level: Error, Rows: []int{54, 55}, Why: "The mesh was exported in inches, centimetres or metres: its size stated in the manifest, its board or its holes fit only then. STL has no unit and is read as millimetres. Export it again in millimetres."},
	Code{Name: "unit-suspect", Level: Warning, Rows: []int{54, 55}, Why: "The mesh is so small, or its sides so round in another unit, that it was probably not exported in millimetres. If it is that small, state its size and the guess is not made."},
	Code{Name: "part-size-differs", Level: Error, Rows: []int{47}, Why: "The mesh is not as large as the manifest says the part is: a file of another part, of another variant or of an older state. Export the right one, or mend the size."},
	Code{Name: "wall-thin", Level: Warning, Rows: []int{76}, Why: "Material is thinner than one line of plastic, so programs that slice leave it out and the part has a hole or falls apart. Thicken it to one line, better two."},
	Code{Name: "wall-slender", Level: Note, Rows: []int{76}, Why: "Material is thinner than most print services accept (0.8 mm). It prints at home with care."},
	Code{Name: "stand-poor", Level: Warning, Rows: []int{72}, Why: "As it stands the part hardly touches the bed, and on another face it would lie flat: it was exported as assembled, or on its edge. It will come loose. State the face with `stand_on`, or turn it in CAD."},
	Code{Name: "stand-better", Level: Note, Rows: []int{72}, Why: "On another face the part overhangs far less. Perhaps this one is chosen for strength or looks; then nothing need be done."},
	Code{Name: "bottom-uneven", Level: Warning, Rows: []int{73}, Why: "Part of the flat underside lies less than a layer above the rest. It is neither on the bed nor a layer higher, so it prints rough or not at all. Draw it level, or a whole layer higher."},
	Code{Name: "mesh-off-bed", Level: Note, Rows: []int{72}, Why: "The file does not rest on z = 0. Programs that slice set it down; viewers and simple programs do not."},
	Code{Name: "bed-common", Level: Note, Rows: []int{92}, Why: "The part fits a printer of the series, but not the small bed of 180 mm that many people have. They should know before they begin, or get a version in pieces."},
)
