package sheet

import (
	"dropwright/bundle/bom"
	"dropwright/bundle/design"
	"dropwright/bundle/facts"
)

// Input is what a sheet is composed from. Design, Facts, House and BOM must be there; everything else may be
// left out, and what hangs on it then stays away from the sheet.
type Input struct {
	Design   *design.Design
	Facts    *facts.Design
	House    *design.House
	BOM      bom.BOM // of exactly the one variant, for any number of builds
	Variant  string
	Audience design.Audience
	Licence  string // SPDX id that this audience's files carry
	Later    string // SPDX id that follows on the public day, when it is another one
	Content  string // digest of the content; its first twelve digits stand at the foot

	BoardTitle func(profile string) string             // nil or "": the profile's id
	Board      func(profile string) (Board, bool)      // for pins by number and the drawing of the board
	PartImage  func(part string, mirrored bool) string // path of a picture of a printed part, "" for none
	StepImage  func(step int) *Picture                 // a drawn picture for a step that has none of its own
	Since      string                                  // the revision before, that Reprint compares with; "" when none is known
	Reprint    []Reprint                               // one for each part; none where nothing must be printed anew
	Beside     bom.Beside                              // all variants side by side; the zero value where there is one
	Logo       string                                  // path of the series' logo, "" for none
	Remarks    []string                                // errors that were let pass on the maker's word
	// Link says where a file of the design lies beside the sheet, "" where it does not: links of the maker's texts
	// to files that are not packed are printed without an address. nil: no file lies there.
	Link func(path string) string
}

// Board is what the wiring drawing needs of a board profile. Lengths in millimetres, seen from the component
// side with x to the right and y upwards; Length 0 means that the outline is not known.
type Board struct {
	Title  string
	Length float64 // along x
	Width  float64 // along y
	// Pins are the pins behind what wiring writes after the board's name: one for "low-speed.23", all pins of a
	// rail for "GND", in the order in which they should be taken; none when the name is not known.
	Pins func(path string) []Pin
}

// Pin is one pin of a board.
type Pin struct {
	Header string // "low-speed"; "" when the profile names no pin for a rail
	Number string // "23"
	Signal string // "5V", "GPIO-A"; "" when not known
	X, Y   float64
	Placed bool // X and Y are known
}

// Reprint says for one printed part whether a builder of the revision before must print it anew.
type Reprint struct {
	Part      string   // its name
	Answer    string   // "yes", "no", "only-if"
	Change    string   // what became of it, in compare's words: "changed", "moved", "added", …
	Deviation *float64 // how far the surfaces differ at most, mm; nil: not measured
	Why       string   // in English
}
