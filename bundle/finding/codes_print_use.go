package finding

// Codes about how parts are printed and used, what is bought, and what was tried.
var _ = register(
	Code{Name: "settings-clash", Level: Warning, Rows: []int{69}, Why: "Two print settings contradict each other, fit no nozzle of the series, or differ from what the part's own 3MF says. A builder finds both and does not know which holds. Keep one."},
	Code{Name: "setting-unlisted", Level: Warning, Rows: []int{68, 69}, Why: "A text names an infill, a number of walls or a layer height that no part of the manifest has: one of the two is from another version. Leave figures to the manifest; the sheet prints them."},
	Code{Name: "material-soft", Level: Warning, Why: "The filament gives way at a temperature that is reached where the thing is used: behind glass, in the sun, in a car. Parts sag and joints let go on the first hot day. Choose a firmer material, or say where it must not be put."},
	Code{Name: "pack-unlisted", Level: Warning, Rows: []int{19}, Why: "A bought part reads as if it came in packs, and the manifest does not say how many are in one. Readers have taken five packs for five pieces. Write `pack`; `count` is then pieces."},
	Code{Name: "bought-size-missing", Level: Warning, Rows: []int{32}, Why: "A magnet, bearing, rod or the like has no typed size. Sizes in words have been written in the wrong order, or forgotten, and the wrong thing was ordered. Write `size` with its fields."},
	Code{Name: "bought-size-differs", Level: Warning, Rows: []int{33}, Why: "A bought part has one size in its name or in a text and another in its fields. Half of the builders will order the wrong one."},
	Code{Name: "trial-old", Level: Warning, Why: "The mesh was changed since the part was last printed and accepted, so what is about to go out was never on the bench. Print it again and log it."},
	Code{Name: "trial-failed", Level: Warning, Why: "The last logged print of this very mesh failed. Mend the part or the settings, print it again and log it."},
	Code{Name: "trial-missing", Level: Note, Why: "Prints of this design are logged, and none of this part was accepted yet."},
	Code{Name: "board-revision-missing", Level: Warning, Rows: []int{65}, Why: "A variant does not say which revisions of its board it was made for. Boards of one outline move sockets and holes from revision to revision, and builders bought the wrong one. Write `board_revisions`."},
	Code{Name: "board-revision-differs", Level: Warning, Rows: []int{65}, Why: "A variant is for one revision of its board, and the profile it was measured against is of another. What was checked is then not what is built."},
)
